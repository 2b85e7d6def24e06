"""One way out to a screen, one way in for files that somebody named, one for pictures."""

import ast
from collections.abc import Iterator
from pathlib import Path

SOAK = Path(__file__).parents[2] / "soak"
WRITES = "reader.py"
STREAMS = {"stdout", "stderr", "out", "_out"}
PRINTS = {"print", "echo", "secho", "prompt", "confirm", "print_exception", "print_exc", "pprint"}
OWN = {"cli/saying.py"}
"""Has an `echo` of its own, which verbs call."""

READS = {"read_text", "read_bytes", "open", "imread", "fromfile", "loads", "load"}
ROOMS = ("cli/", "desk/", "live/", "settings.py", "run/inbox.py", "run/asking.py", "run/script.py")
"""Where files are read that somebody named, or that others put into the bench's folder."""
NAMED_BY_NOBODY = {
    "cli/main.py": "the null device",
    "desk/carrying/pack.py": "what it just wrote itself, read back",
    "desk/carrying/search.py": "a copy, read block by block where a bad place must not end it",
    "desk/demo/demo.py": "files that come with the program",
    "desk/keeping/archive.py": "what stands in a backup, which `soak.outside` opened",
    "desk/keeping/backup.py": "the new file that it writes",
    "desk/keeping/restore.py": "new files that it writes",
    "desk/soaking/awake.py": "the kernel's own files",
    "desk/soaking/in_use.py": "a lock, made if it is not there",
    "desk/soaking/sight.py": "a picture that comes with the program",
    "desk/trust/keys.py": "a key, written only where none is",
}


def calls(source: str) -> Iterator[tuple[str, str, int]]:
    """Yield what is called: the name, whose attribute it is (empty: nobody's), the line."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name):
                yield called.id, "", node.lineno
            elif isinstance(called, ast.Attribute):
                owner = called.value
                yield called.attr, getattr(owner, "attr", getattr(owner, "id", "?")), node.lineno


def printed(source: str) -> list[int]:
    """Return the lines that write to a screen by themselves."""
    return [
        line
        for name, owner, line in calls(source)
        if (name in PRINTS and owner in ("", "typer", "click", "traceback", "pprint"))
        or (name in ("write", "writelines") and owner in STREAMS)
    ]


def read(source: str) -> list[int]:
    """Return the lines that open a file, or take JSON, by themselves."""
    return [
        line
        for name, owner, line in calls(source)
        if (name in READS and owner not in ("", "tomllib")) or (name == "open" and owner == "")
    ]


def sources() -> Iterator[tuple[str, str]]:
    for path in sorted(SOAK.rglob("*.py")):
        yield path.relative_to(SOAK).as_posix(), path.read_text(encoding="utf-8")


def test_nobody_prints_beside_the_one_who_shows():
    """What goes to a screen goes through `soak.reader.show`, which makes all of it visible."""
    verbs = {name for name, source in sources() if "import echo" in source} | OWN
    wrong = {
        name: lines
        for name, source in sources()
        if name != WRITES and (lines := printed(source)) and name not in verbs
    }
    assert wrong == {}
    for name in verbs:
        source = (SOAK / name).read_text(encoding="utf-8")
        own = [line for called, owner, line in calls(source) if called in PRINTS and owner]
        assert own == [], name


def test_files_that_somebody_named_are_opened_in_one_place():
    """A pipe, a device, a huge file: `soak.outside` refuses them for every verb alike."""
    wrong = {
        name: lines
        for name, source in sources()
        if name.startswith(ROOMS) and name not in NAMED_BY_NOBODY and (lines := read(source))
    }
    assert wrong == {}


def test_pictures_are_decoded_in_one_place():
    """One that claims to be enormous, or is none, is refused for everybody alike."""
    decoders = {
        name
        for name, source in sources()
        if any(called in ("imdecode", "imread") for called, _, _ in calls(source))
    }
    assert decoders == {"measure/decode.py"}


def test_this_test_can_fail():
    """It finds what it looks for."""
    assert printed("print('x')\nsys.stderr.write('x')\ntyper.echo('x')\n") == [1, 2, 3]
    assert printed("show('x')\nfile.write('x')\n") == []
    assert read("path.read_bytes()\nopen('x')\njson.loads('x')\n") == [1, 2, 3]
    assert read("read_bytes(path)\n") == []
