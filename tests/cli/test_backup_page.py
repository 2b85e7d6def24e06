"""The page about copies: every command on it is typed, in its order, and does what it says."""

import hashlib
import re
import shlex
from pathlib import Path

from typed_bench import typed

PAGE = Path(__file__).parents[2] / "docs/how-to/keep-a-copy-of-the-bench.md"


def test_every_command_of_the_page_works_in_its_order(bench, tmp_path):
    """K1 was soaked and sold; what was cleared is back at the end."""
    journal = bench.path / "reports" / "K1-20260105-2000" / "journal.sqlite"
    before = journal.read_bytes()
    for words in (("key",), ("judge", "K1"), ("unit", "sold", "K1", "--where", "x", "--anyway")):
        typed("--bench", str(bench.path), *words)
    text = PAGE.read_text(encoding="utf-8")
    commands = re.findall(r"^    \$ soak (.*)$", text, re.M)
    assert len(commands) == 5
    for number, command in enumerate(commands):
        line = command.replace("/media/disk", str(tmp_path)).replace("/home/bench", str(tmp_path))
        said = typed("--bench", str(bench.path), *shlex.split(line))
        assert said.code == 0, (command, said)
        assert journal.is_file() == (number != 3)
    assert journal.read_bytes() == before
    assert (tmp_path / "restored" / "ledger.sqlite").is_file()
    data = (tmp_path / "bench.zip").read_bytes()
    assert data.endswith(hashlib.sha256(data[:-64]).hexdigest().encode())
