"""Old journals go only where a named backup has them to the byte; every verb says where."""

import shutil
from pathlib import Path

import pytest
from terminal_bench import Terminal
from typed_bench import Said, TypedBench, soak_brief, typed

from soak.errors import ExitCode
from soak.journal.ownership import Ownership


def say(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def soak_of(bench: TypedBench, tag: str) -> str:
    return next(soak for soak in bench.soaks() if soak.startswith(tag))


def journals(bench: TypedBench) -> set[str]:
    return set(bench.soaks())


@pytest.fixture
def sold(bench):
    """Give a bench whose K1 was soaked, reported and sold."""
    soak = soak_of(bench, "K1")
    assert say(bench, "report", soak).code == 0
    assert say(bench, "unit", "sold", "K1", "--where", "own shop", "--anyway").code == 0
    return bench


def backed_up(bench: TypedBench, name: str = "kept.zip") -> Path:
    file = bench.path.parent / name
    said = say(bench, "backup", str(file))
    assert said.code == 0, said
    return file


@pytest.fixture
def kept(sold) -> Path:
    return backed_up(sold)


def test_it_lists_and_asks_and_without_an_answer_clears_nothing(sold, kept):
    """Nobody is at the terminal: what would go is listed, and how to say yes."""
    soak = soak_of(sold, "K1")
    before = {file: file.read_bytes() for file in sold.path.rglob("*.sqlite")}
    said = say(sold, "clear", str(kept))
    assert said.code == ExitCode.USAGE, said
    assert soak in said.out
    assert "--yes" in said.out + said.err
    assert {file: file.read_bytes() for file in before} == before


@pytest.mark.parametrize(
    ("answer", "stays"), [("n", True), ("nein", True), ("", True), ("Y", False), ("ja", False)]
)
def test_at_a_terminal_it_asks_and_does_what_is_answered(sold, kept, answer, stays):
    """The list first, then the question; what is no answer is asked again, and Ctrl-C is a no."""
    soak = soak_of(sold, "K1")
    with Terminal(sold.path, "clear", str(kept)) as terminal:
        terminal.until(soak)
        terminal.until("Clear these?")
        terminal.type(answer)
        if not answer:
            terminal.until("Clear these?")
            terminal.ctrl_c()
            assert terminal.ended() == ExitCode.STOPPED
        else:
            assert terminal.ended() == ExitCode.DONE
    assert (soak in journals(sold)) == stays


def test_what_is_cleared_is_gone_with_its_kept_files_and_the_grade_stays(sold, kept):
    """Pages that went out stay, and the card is as it was but for where the journal is."""
    soak = soak_of(sold, "K1")
    folder = sold.path / "reports" / soak
    card = say(sold, "unit", "show", "K1").out
    said = say(sold, "clear", str(kept), "--yes")
    assert said.code == 0, said
    assert not (folder / "journal.sqlite").exists()
    assert not list((folder / "kept").glob("*")) if (folder / "kept").exists() else True
    assert (folder / "report.html").is_file()
    after = say(sold, "unit", "show", "K1")
    assert after.code == 0
    lines = after.out.splitlines()
    assert all(line in lines for line in card.splitlines())
    assert any(soak in line and kept.name in line for line in lines)
    assert say(sold, "verify", str(folder / "report.html"), "--unit", "K1").code in (0, 4)


@pytest.mark.parametrize(
    "words", ["show", "judge", "report", "resume", "join", "export", "verify"], ids=str
)
def test_every_verb_that_wants_the_journal_names_the_backup(sold, kept, words):
    """One sentence, with the command that puts it back."""
    soak = soak_of(sold, "K1")
    assert say(sold, "clear", str(kept), "--yes").code == 0
    asked = {
        "export": ("export", soak, str(sold.path / "out")),
        "verify": ("verify", str(sold.path / "reports" / soak)),
    }.get(words, (words, soak))
    said = say(sold, *asked)
    assert said.code == ExitCode.USAGE, said
    assert len(said.err.strip().splitlines()) == 1
    assert f"soak restore {kept.name} --soak {soak}" in said.err
    journal = say(sold, "verify", str(sold.path / "reports" / soak / "journal.sqlite"))
    assert "soak restore" in journal.out + journal.err


def test_a_unit_that_comes_back_after_it_is_told_where_its_nights_are(sold, kept):
    """The next job needs what was seen before: it is not silently forgotten, and no crash."""
    soak = soak_of(sold, "K1")
    assert say(sold, "clear", str(kept), "--yes").code == 0
    assert say(sold, "unit", "back", "K1", "dark").code == 0
    soak_brief(sold.path, "K1", 1e9)
    newest = next(one for one in sold.soaks() if one.startswith("K1"))
    for words in (("judge", newest), ("report", newest), ("show", newest), ("show",)):
        said = say(sold, *words)
        assert said.code != ExitCode.BROKE, said
    out = say(sold, "judge", newest, "--whole").out + say(sold, "unit", "show", "K1").out
    assert kept.name in out
    assert soak in out
    export = say(sold, "unit", "export", "K1", str(sold.path.parent / "sealed"))
    assert export.code == ExitCode.INCOMPLETE
    assert kept.name in export.out


def test_put_back_everything_is_as_it_was(sold, kept):
    """Journal, seal, kept files, and no trace of the clearing."""
    soak = soak_of(sold, "K1")
    folder = sold.path / "reports" / soak
    before = {file.name: file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    said_before = say(sold, "judge", soak, "--whole").out
    assert say(sold, "clear", str(kept), "--yes").code == 0
    said = say(sold, "restore", str(kept), "--soak", soak)
    assert said.code == 0, said
    after = {file.name: file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    assert after == before
    assert say(sold, "judge", soak, "--whole").out == said_before
    again = say(sold, "restore", str(kept), "--soak", soak)
    assert again.code == ExitCode.USAGE
    for name in ("../x", "no-such-soak", "."):
        assert say(sold, "restore", str(kept), "--soak", name).code == ExitCode.USAGE


def refused(bench: TypedBench, file: Path, *parts: str) -> None:
    """Clear nothing, and say why."""
    before = journals(bench)
    said = say(bench, "clear", str(file), "--yes")
    assert journals(bench) == before
    assert all(part in said.out + said.err for part in parts), said


def test_what_is_not_in_the_backup_to_the_byte_stays(bench, tmp_path):
    """A soak that is younger than the backup, kept files or a journal that differ."""
    old = backed_up(bench, "old.zip")
    soak = soak_of(bench, "K1")
    assert say(bench, "judge", soak).code != ExitCode.BROKE
    say(bench, "unit", "sold", "K1", "--where", "own shop", "--anyway")
    other = TypedBench(tmp_path / "other")
    shutil.copytree(bench.path, other.path)
    (other.path / "reports" / soak / "kept" / "added.jpg").write_bytes(b"x")
    refused(other, old, f"{soak} stays: added.jpg")
    file = bench.path / "reports" / soak / "journal.sqlite"
    file.chmod(0o644)
    data = file.read_bytes()
    file.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    refused(bench, old, soak)
    file.write_bytes(data)
    assert say(bench, "clear", str(old), "--yes").code == 0
    assert soak not in journals(bench)


def test_running_and_cut_off_soaks_and_those_of_units_that_are_here_stay(bench):
    """Whatever the backup has of them."""
    say(bench, "judge", soak_of(bench, "K1"))
    kept = backed_up(bench)
    refused(bench, kept, "nothing")
    say(bench, "unit", "sold", "K3", "--where", "own shop", "--anyway")
    refused(bench, kept, "nothing", f"{soak_of(bench, 'K3')} stays: was cut off")
    say(bench, "unit", "sold", "K1", "--where", "own shop", "--anyway")
    running = Ownership(bench.path / "reports" / soak_of(bench, "K1"))
    try:
        refused(bench, kept, "a program is writing it")
    finally:
        running.release()


def test_closed_jobs_of_a_unit_that_is_here_go_only_if_asked_for(bench):
    """Its next soak counts what they saw; so it is an option, and is said."""
    soak = soak_of(bench, "K1")
    say(bench, "judge", soak)
    say(bench, "unit", "opened", "K1", "fan renewed")
    kept = backed_up(bench)
    refused(bench, kept, "--closed")
    said = say(bench, "clear", str(kept), "--closed", "--yes")
    assert said.code == 0
    assert "MIND" in said.out
    assert soak not in journals(bench)


def test_a_soak_is_found_cleared_by_its_beginning_by_last_and_by_its_folder(sold, kept):
    """However it is named; and a soak that still has its journal is found as ever."""
    soak = soak_of(sold, "K1")
    folder = sold.path / "reports" / soak
    shutil.rmtree(sold.path / "reports" / soak_of(sold, "K3"))
    assert say(sold, "clear", str(kept), "--yes").code == 0
    for name in (soak, "K1", "last", str(folder)):
        said = say(sold, "judge", name)
        assert said.code == ExitCode.USAGE
        assert f"`soak restore {kept.name} --soak {soak}`" in said.err, said
    assert "no soak yet" in say(sold, "judge", "K2").err
    soak_brief(sold.path, "K4", 1e9)
    newest = soak_of(sold, "K4")
    for name in ("last", "K4", newest):
        assert newest in say(sold, "show", name).out
    assert "there is no such soak" in say(sold, "judge", "K2").err


@pytest.mark.parametrize("how", ["cut", "changed", "other"])
def test_a_backup_that_is_not_whole_clears_nothing(sold, kept, how):
    """It may be all that is left of them afterwards."""
    data = kept.read_bytes()
    changed = data[: len(data) // 2] + b"!" + data[len(data) // 2 + 1 :]
    other = sold.path.parent / "other.zip"
    other.write_bytes({"cut": data[:-70], "changed": changed, "other": b"hello"}[how])
    refused(sold, other, "other.zip")


def test_a_backup_that_lies_in_what_is_cleared_is_no_safe_place(sold):
    """Nor one reached by a link into the soak's own folder."""
    kept = backed_up(sold)
    inside = sold.path / "reports" / soak_of(sold, "K1") / "kept.zip"
    kept.replace(inside)
    refused(sold, inside, "the bench's own")
    link = sold.path.parent / "link.zip"
    link.symlink_to(inside)
    refused(sold, link, "the bench's own")


def test_a_later_backup_tells_of_what_an_earlier_one_has(sold, kept, tmp_path):
    """The note travels: read back, the bench still knows which file has the journal."""
    soak = soak_of(sold, "K1")
    say(sold, "clear", str(kept), "--yes")
    later = backed_up(sold, "later.zip")
    again = TypedBench(tmp_path / "again")
    assert say(sold, "restore", str(later), str(again.path)).code == 0
    assert kept.name in say(again, "judge", soak).err
    assert say(again, "restore", str(later), "--soak", soak).code == ExitCode.USAGE
    assert say(again, "restore", str(kept), "--soak", soak).code == ExitCode.DONE
    assert say(again, "judge", soak).code != ExitCode.USAGE


def test_clearing_broken_off_loses_nothing(sold, kept, monkeypatch):
    """Stopped between two removals: the note is there first; the rest can go, or come back."""
    soak = soak_of(sold, "K1")
    removed = []
    usual = Path.unlink

    def unlink(path: Path, missing_ok: bool = False) -> None:
        if path.name == "journal.sqlite":
            removed.append(path)
            raise KeyboardInterrupt
        usual(path, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", unlink)
    said = say(sold, "clear", str(kept), "--yes")
    monkeypatch.undo()
    assert removed
    assert said.code == ExitCode.STOPPED
    assert say(sold, "clear", str(kept), "--yes").code == 0
    assert soak not in journals(sold)
    assert say(sold, "restore", str(kept), "--soak", soak).code == 0
    assert say(sold, "judge", soak).code != ExitCode.USAGE
