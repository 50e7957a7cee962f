"""Lets the tests of this room share their writer, whatever the import mode."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
