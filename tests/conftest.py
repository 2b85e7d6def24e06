"""Make what stands in tests/support importable by name: `from fuse_disk import FuseDisk`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent / "support"))
