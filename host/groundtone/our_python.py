"""Python processes of our own: each must find the same modules as this one, wherever they come from."""

import os
import sys
from collections.abc import Mapping


def with_our_modules(env: Mapping[str, str] = os.environ) -> dict[str, str]:
    """An environment with the way to this program's modules added."""
    return dict(env, PYTHONPATH=os.pathsep.join(path for path in sys.path if path))
