"""A file that holds a number."""

from contextlib import aclosing
from pathlib import Path
from typing import Any

import pytest
from bench_tools import open_driver, run_real, wired

from soak.bench.drivers.number_file import NumberFile, parse
from soak.bench.readings import Refused
from soak.bench.registry import Tools
from soak.errors import BenchFault
from soak.records import Reading, State
from soak.states import BLIND


def checked(**settings: Any) -> NumberFile:
    """Make the settings of a number file."""
    found = wired("probe", {"driver": "number_file", "file": "/x", **settings})
    assert isinstance(found, NumberFile)
    return found


def test_the_kernels_millidegrees_are_read() -> None:
    """Kernel documentation hwmon/sysfs-interface: temp*_input is in millidegree Celsius."""
    assert parse(b"23500\n", checked(scale=0.001)) == 23.5


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"235", "without a line end"),
        (b"", "without a line end"),
        (b"\n", "not a number"),
        (b"23500\n24500\n", "not a number"),
        (b"N/A\n", "not a number"),
        (b"1" * 65, "more than a number"),
    ],
)
def test_what_is_not_one_whole_number_is_refused(data: bytes, why: str) -> None:
    """Half a number that another program is just writing is no reading."""
    with pytest.raises(Refused, match=why):
        parse(data, checked())


def test_a_wrong_path_is_told_at_opening(tmp_path: Path) -> None:
    """A missing file does not wait for the night to be noticed."""

    async def main(tools: Tools) -> None:
        with pytest.raises(BenchFault, match=r"probe.x: there is no file .*; correct"):
            await read_settings(tmp_path / "none", tools)
        with pytest.raises(BenchFault, match=r"cannot be read: .*directory"):
            await read_settings(tmp_path, tools)
        (tmp_path / "a1").write_text("1\n")
        (tmp_path / "a2").write_text("1\n")
        with pytest.raises(BenchFault, match=r"2 files fit .*a\*: .*a1, .*a2"):
            await read_settings(tmp_path / "a*", tools)

    run_real(main)


async def read_settings(file: Path, tools: Tools, **more: Any) -> Any:
    """Open a probe on a file."""
    settings = {"driver": "number_file", "file": str(file), "every_s": 0.05, **more}
    return await open_driver("probe.x", "probe", settings, tools)


def test_a_file_that_vanishes_is_blind_and_seen_again_when_it_is_back(tmp_path: Path) -> None:
    """A star in the path finds it under its new number."""
    file = tmp_path / "hwmon1"
    file.write_text("23500\n")

    async def main(tools: Tools) -> list[str | float]:
        said: list[str | float] = []
        probe = await read_settings(tmp_path / "hwmon*", tools, scale=0.001)
        async with aclosing(probe.readings()) as stream:
            async for seen in stream:
                said.append(seen.value if isinstance(seen, Reading) else seen.state)
                if said[-1] == 23.5:
                    file.unlink()
                elif said[-1] == BLIND:
                    assert isinstance(seen, State)
                    assert "0 files fit" in seen.detail["why"]
                    (tmp_path / "hwmon2").write_text("24500\n")
                elif said[-1] == 24.5:
                    break
        await probe.aclose()
        return said

    assert run_real(main) == ["seen", 23.5, BLIND, "seen", 24.5]


def test_a_file_that_nobody_writes_any_more_goes_blind(tmp_path: Path) -> None:
    """Where another program writes the file, its last word is not repeated all night."""
    file = tmp_path / "number"
    file.write_text("23.5\n")

    async def main(tools: Tools) -> str:
        probe = await read_settings(file, tools, changes_within_s=0.1, silent_after_s=0.2)
        async with aclosing(probe.readings()) as stream:
            async for seen in stream:
                if isinstance(seen, State) and seen.state == BLIND:
                    return str(seen.detail["why"])
        raise AssertionError

    assert "nothing has been written to" in run_real(main)
