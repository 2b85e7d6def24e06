"""Be a user whom permissions hold, whoever runs the tests, in a folder that all can reach."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def plain_user() -> Iterator[None]:
    """Be a user whom permissions hold, where the tests run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.setresgid(65534, 65534, 0)
    os.setresuid(65534, 65534, 0)
    try:
        yield
    finally:
        os.setresuid(0, 0, 0)
        os.setresgid(0, 0, 0)


@contextlib.contextmanager
def open_folder() -> Iterator[Path]:
    """Give a folder that every user can reach, unlike pytest's own."""
    path = Path(tempfile.mkdtemp(prefix="soak-open-"))
    path.chmod(0o755)
    try:
        yield path
    finally:
        for folder, _, _ in os.walk(path):
            Path(folder).chmod(0o755)
        shutil.rmtree(path)
