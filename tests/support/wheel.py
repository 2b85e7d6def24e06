"""Build the wheel of the project as `make wheel` does."""

import shutil
import subprocess
import sys
from pathlib import Path

HOUSE = Path(__file__).parents[2]
NEEDED = ("pyproject.toml", "README.md", "LICENSE", "soak")
"""What a wheel is made of."""


def build(folder: Path, of: Path = HOUSE) -> Path:
    """Build a wheel into a folder; return its file."""
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=of, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    return wheel


def copy_of_the_project(folder: Path) -> Path:
    """Copy what a wheel is made of; the copies are as old as the copying."""
    folder.mkdir()
    for name in NEEDED:
        source = HOUSE / name
        if source.is_dir():
            leave = shutil.ignore_patterns("__pycache__")
            shutil.copytree(source, folder / name, ignore=leave, copy_function=shutil.copyfile)
        else:
            shutil.copyfile(source, folder / name)
    return folder
