"""What the how-tos print is what the program prints today."""

import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
from soak_process import SOAK

pytestmark = pytest.mark.nights

HOUSE = Path(__file__).parents[2]
SIMULATED = (HOUSE / "fixtures" / "simulated" / "good.toml").read_text(encoding="utf-8")
SOAK_ID = re.compile(r"\bK\d-\d{8}-\d{4}\b")


def page(name):
    """Return a how-to's text."""
    return (HOUSE / "docs" / "how-to" / name).read_text(encoding="utf-8")


def heat(folder):
    """Lay out the bench of the page on heat; return the page's commands and what they print."""
    text = page("is-the-thermal-compound-right.md")
    (folder / "scripts").mkdir()
    script = re.search(r"```toml\n(.*?)```", text, re.DOTALL)
    (folder / "scripts" / "heat.toml").write_text(script[1])
    (folder / "good.toml").write_text(SIMULATED)
    (folder / "dried.toml").write_text(
        SIMULATED.replace('simulated = "good"', 'simulated = "overheats"').replace(", good", "")
    )
    return "".join(re.findall(r"```console\n(.*?)```", text, re.DOTALL)[:2])


def supply(folder):
    """Lay out the bench of the page on the supply's limits, its simulated unit on it."""
    (folder / "bench-supply.toml").write_text(
        SIMULATED.replace('simulated = "good"', 'simulated = "fails_at_low_supply"')
        .replace("[switch]\n", "[switch]\nsets_voltage = true\naccuracy_v = 0.05\n")
        .replace("[probe.supply]\n", "[probe.supply]\naccuracy = 0.01\n")
    )
    text = page("try-the-supplys-limits.md")
    return re.search(r"```console\n(\$ soak run supply.*?)```", text, re.DOTALL)[1]


def said(folder, line):
    """Run a command; return what it prints, without the names of soaks."""
    run = [*SOAK, *shlex.split(line)[1:]]
    done = subprocess.run(run, cwd=folder, capture_output=True, text=True, check=False)
    return SOAK_ID.sub("", done.stdout + done.stderr)


@pytest.mark.parametrize("lay_out", [heat, supply], ids=["heat", "supply"])
def test_every_line_that_a_page_shows_is_printed_today(tmp_path, lay_out):
    """Commands with their seeds, one after another, as a reader would type them."""
    shutil.copytree(HOUSE / "fixtures" / "models", tmp_path / "fixtures" / "models")
    lines = lay_out(tmp_path).splitlines()
    for tag in ("K1", "K2", "K3"):
        said(tmp_path, f"soak unit add H-{tag} --model ferrow-sp-40 --tag {tag}")
    came, lacking = "", []
    for line in lines:
        if line.startswith("$ "):
            came = said(tmp_path, line.removeprefix("$ "))
        elif line != "..." and SOAK_ID.sub("", line) not in came.splitlines():
            lacking.append(line)
    assert lines
    assert lacking == [], came
