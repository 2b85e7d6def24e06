"""A bench folder made once, and a copy of it for each test."""

import shutil

import pytest
from made_up_host import MadeUpHost
from plain_user import open_folder
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


@pytest.fixture
def made_up(monkeypatch):
    """Give a host without any trouble, in place of this one."""
    from soak.desk.trouble import host as host_file

    with open_folder() as folder:
        host = MadeUpHost(folder / "host")
        host.write("proc/1/comm", "init\n")
        host.write("sys/power/state", "\n")
        monkeypatch.setattr(host_file, "ROOT", host.root)
        monkeypatch.setattr(host_file, "plugged_in", list)
        monkeypatch.setattr(host_file, "interfaces", dict)
        monkeypatch.setattr(host_file, "is_set_by_a_server", lambda: True)
        monkeypatch.setattr(host_file, "kept_or_why_not", lambda: "")
        yield host


@pytest.fixture
def wired():
    """Give a bench whose folder a plain user may write, with no file in it yet."""
    with open_folder() as folder:
        (folder / "bench").mkdir()
        folder.chmod(0o777)
        (folder / "bench").chmod(0o777)
        yield TypedBench(folder / "bench")
