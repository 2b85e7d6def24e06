"""A bench folder made once, and a copy of it for each test."""

import shutil

import pytest
from typed_bench import TypedBench, make_bench


@pytest.fixture(scope="session")
def whole_bench(tmp_path_factory):
    """Make the bench: K1 soaked, K2 sold, K3 cut off, K4 never soaked."""
    return make_bench(tmp_path_factory.mktemp("whole") / "bench")


@pytest.fixture
def bench(whole_bench, tmp_path):
    """Give a copy to mistype on."""
    shutil.copytree(whole_bench.path, tmp_path / "bench")
    return TypedBench(tmp_path / "bench")
