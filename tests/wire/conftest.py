"""What the tests of the wire share is found beside them."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
