"""What runs beside a check's own work ends with it, and its faults come as they are."""

import pytest
import trio

from soak.checks.base import beside
from soak.errors import BenchFault


def test_a_fault_of_the_bench_is_raised_as_it_is():
    """In a group it would be taken for a check that broke."""

    async def main() -> None:
        with pytest.raises(BenchFault, match="does not answer"):
            async with beside(trio.sleep_forever):
                raise BenchFault("switch", "does not answer")

    trio.run(main)


def test_what_runs_beside_has_begun_and_ends_with_the_block():
    """Else the first thing that happens would be missed, or the check would never end."""
    told: list[str] = []

    async def task() -> None:
        told.append("begun")
        try:
            await trio.sleep_forever()
        finally:
            told.append("ended")

    async def main() -> None:
        async with beside(task):
            assert told == ["begun"]
        assert told == ["begun", "ended"]

    trio.run(main)
