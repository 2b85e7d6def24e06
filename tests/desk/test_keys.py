"""The bench's key: made with the bench, nobody else's, and not in anybody's repository."""

import shutil
import subprocess
from pathlib import Path

import pytest
from one_unit_bench import bench_with_k1, soaked_and_reported
from typed_bench import make_bench, typed

from soak.desk.trust import keys
from soak.errors import ExitCode, UsageError

needs_git = pytest.mark.skipif(shutil.which("git") is None, reason="no git here")


def git(folder: Path, *words: str) -> str:
    done = subprocess.run(
        ["git", "-c", "user.name=KY", "-c", "user.email=ky@yard.example", *words],
        cwd=folder,
        capture_output=True,
        check=True,
    )
    return done.stdout.decode()


def test_the_first_verb_that_makes_the_bench_makes_its_key(tmp_path):
    """A ledger and a key with mode 0600; a second verb and `soak key` keep them."""
    bench_with_k1(tmp_path)
    private = tmp_path / "key" / "bench.key"
    before = private.read_bytes()
    assert private.stat().st_mode & 0o777 == 0o600
    assert typed("--bench", str(tmp_path), "unit", "list").code == ExitCode.DONE
    shown = [typed("--bench", str(tmp_path), "key").out for _ in range(2)]
    assert private.read_bytes() == before
    assert shown[0] == shown[1]
    assert shown[0].startswith("fingerprint: ")


def test_a_bench_of_before_gets_its_key_by_the_verb(tmp_path):
    """A ledger without a key stays as it is until `soak key`; its reports say "Not signed"."""
    bench = bench_with_k1(tmp_path)
    shutil.rmtree(bench / "key")
    folder = soaked_and_reported(bench, "K1@left.toml")
    assert not (bench / "key").exists()
    for name in ("report-buyer.html", "listing.txt"):
        assert "Not signed" in (folder / name).read_text(), name
    assert typed("--bench", str(bench), "key").code == ExitCode.DONE
    assert typed("--bench", str(bench), "report").code == ExitCode.DONE
    assert "Signed by the key" in (folder / "report-buyer.html").read_text()


def test_verifying_in_a_strangers_folder_leaves_nothing_behind(tmp_path):
    """A buyer's folder gets neither a ledger nor a key."""
    file = tmp_path / "page.html"
    file.write_text("<p>hello</p>")
    assert typed("--bench", str(tmp_path), "verify", str(file)).code == ExitCode.INCOMPLETE
    assert list(tmp_path.iterdir()) == [file]


@needs_git
def test_git_ignores_the_key_whatever_the_bench_ignores(tmp_path):
    """`git add --all` in a bench's folder takes nothing of `key/`."""
    make_bench(tmp_path)
    typed("--bench", str(tmp_path), "key")
    git(tmp_path, "init", "--quiet")
    git(tmp_path, "add", "--all")
    assert "ledger.sqlite" in git(tmp_path, "ls-files")
    assert "key/" not in git(tmp_path, "ls-files")
    assert git(tmp_path, "status", "--porcelain", "key") == ""


@needs_git
@pytest.mark.parametrize("committed", [False, True])
def test_a_key_that_git_tracks_signs_nothing(tmp_path, committed):
    """One sentence that says what to do, code 2; after that it signs again."""
    bench = bench_with_k1(tmp_path / "repository" / "bench")
    soaked_and_reported(bench, "K1@left.toml")
    repository = bench.parent
    git(repository, "init", "--quiet")
    git(repository, "add", "--force", "bench/key/bench.key")
    if committed:
        git(repository, "commit", "--quiet", "--message", "all")
    said = typed("--bench", str(bench), "report")
    assert said.code == ExitCode.USAGE
    assert "bench.key: git tracks it" in said.sentence
    assert "git rm --cached" in said.sentence
    assert len(said.err.strip().splitlines()) == 1
    git(repository, "rm", "--quiet", "--cached", "bench/key/bench.key")
    assert typed("--bench", str(bench), "report").code == ExitCode.DONE


def test_a_key_that_others_may_read_is_refused(tmp_path):
    """A world-readable key gets one sentence with the command that mends it."""
    keys.make_key(tmp_path)
    (tmp_path / "key" / "bench.key").chmod(0o644)
    with pytest.raises(UsageError, match="chmod 600"):
        keys.bench_key(tmp_path)


def test_two_programs_that_make_a_bench_at_once_have_one_key(tmp_path):
    """Whoever comes second takes the first one's."""
    assert keys.make_key(tmp_path).public == keys.make_key(tmp_path).public
