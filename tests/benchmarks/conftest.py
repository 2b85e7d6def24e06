"""Let the tests of benchmarks import them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
