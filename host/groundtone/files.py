"""Where a user's files live."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def data_folder() -> Path:
    """The folder of this user's groundtone files.

    GROUNDTONE_HOME where it is set; else Application Support (macOS), LOCALAPPDATA (Windows), or XDG_DATA_HOME and
    ~/.local/share (XDG base directory specification).
    """
    named = os.environ.get("GROUNDTONE_HOME")
    if named:
        return Path(named)
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "groundtone"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "groundtone"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "groundtone"
