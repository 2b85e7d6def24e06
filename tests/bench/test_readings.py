"""From what an instrument says to readings and states."""

import contextlib
from collections.abc import Iterable, Iterator
from contextlib import aclosing
from typing import cast

import pytest
import trio
from bench_tools import run_leaping
from hypothesis import example, given
from hypothesis import strategies as st

from soak.bench.drivers import number_file, scpi_meter, serial_lines
from soak.bench.drivers.number_file import NumberFile
from soak.bench.drivers.scpi_meter import ScpiMeter
from soak.bench.drivers.serial_lines import SerialLines
from soak.bench.readings import PrintedIn, Refused, as_number, converted, shown, watched
from soak.bench.registry import Tools
from soak.bench.serial.scpi import parse_error, parse_identity, parse_number, parse_on
from soak.bench.serial.text_talk import check_answer
from soak.errors import BenchFault
from soak.marks import COUNTED
from soak.records import Reading, State
from soak.states import BLIND


@pytest.mark.parametrize(
    ("printed", "unit", "value"),
    [
        # NIST SP 811 (2008) B.8: t/degC = (t/degF - 32)/1.8; freezing and boiling of water
        (32.0, "degF", 0.0),
        (212.0, "degF", 100.0),
        (-40.0, "degF", -40.0),
        (1500.0, "mV", 1.5),
        (250.0, "mA", 0.25),
    ],
)
def test_a_printed_unit_is_converted(printed: float, unit: PrintedIn, value: float) -> None:
    """Values agree with the published conversions."""
    assert converted(printed, unit) == pytest.approx(value, abs=1e-12)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_is_read_as_it_was_printed(value: float) -> None:
    """What Python prints is read back exactly."""
    assert as_number(repr(value)) == value


@pytest.mark.parametrize("text", ["", "nan", "inf", "1_0", "0x10", "٣", "1,5", "--1", "1e999", "."])
def test_what_only_looks_like_a_number_is_refused(text: str) -> None:
    """Python's own ideas of a number are not an instrument's."""
    with pytest.raises(Refused):
        as_number(text)


PARSERS = {
    "number": parse_number,
    "error": parse_error,
    "identity": parse_identity,
    "on": parse_on,
    "serial_lines": lambda data: serial_lines.parse(
        data, SerialLines(driver="serial_lines", port="x", pattern="(.*)", decimal_comma=True)
    ),
    "scpi_meter": lambda data: scpi_meter.parse(data, ScpiMeter(driver="scpi_meter", port="x")),
    "number_file": lambda data: number_file.parse(
        data, NumberFile(driver="number_file", file="x", scale=1e300, needs_line_end=False)
    ),
    "answer": lambda data: check_answer(data, "O"),
}


@pytest.mark.parametrize("parser", PARSERS)
@given(data=st.one_of(st.binary(max_size=80), st.from_regex(rb"[-+0-9.eE, \r\n]{0,20}")))
@example(data=b"9.9E37")
@example(data=b"1e300")
def test_any_bytes_are_read_or_refused(parser: str, data: bytes) -> None:
    """No garbage makes a parser raise anything but its refusal."""
    with contextlib.suppress(Refused):
        PARSERS[parser](data)


@given(st.binary(max_size=300))
def test_bytes_are_shown_short_and_printable(data: bytes) -> None:
    """A message stays one printable line whatever came."""
    text = shown(data)
    assert text.isascii()
    assert text.isprintable()
    assert len(text) <= 4 * 60 + 5


def follow(
    steps: Iterable[object], silent_after_s: float, count: int, counts: bool = False
) -> list[tuple[object, ...]]:
    """Play steps one second apart through `watched`; return the first `count` things it says.

    What it only counts is left out, or `counts` is all that is returned.
    """

    async def main(tools: Tools) -> list[tuple[object, ...]]:
        coming: Iterator[object] = iter(steps)

        async def take() -> float | None:
            await trio.sleep(1)
            step = next(coming)
            if isinstance(step, Exception):
                raise step
            return cast(float | None, step)

        said: list[tuple[object, ...]] = []
        async with aclosing(watched("probe.x", silent_after_s, take)) as stream:
            async for seen in stream:
                if counts is not (isinstance(seen, State) and seen.state == COUNTED):
                    continue
                if isinstance(seen, State) and counts:
                    said.append((seen.t_s, seen.source, seen.detail["unread"], seen.detail["last"]))
                elif isinstance(seen, Reading):
                    said.append((seen.t_s, seen.value))
                else:
                    why = (seen.detail["why"],) if seen.detail else ()
                    said.append((seen.t_s, seen.state, seen.within_s, *why))
                if len(said) == count:
                    break
        return said

    return run_leaping(main)


def test_a_short_silence_is_not_blindness() -> None:
    """One missed reading is nothing."""
    assert follow([20.0, None, Refused("x"), 21.0], 5, 3) == [
        (0, "seen", 0.0),
        (1, 20.0),
        (4, 21.0),
    ]


def test_a_long_silence_is_blind_from_the_limit_and_known_within_it() -> None:
    """The blindness may have begun at any time since the last reading."""
    assert follow([20.0, None, None, None, 21.0], 3, 5) == [
        (0, "seen", 0.0),
        (1, 20.0),
        (4, BLIND, 3.0, "no reading for 3 s"),
        (5, "seen", 0.0),
        (5, 21.0),
    ]


def test_blindness_is_said_once_with_the_last_reason() -> None:
    """An instrument that only talks nonsense fills no journal."""
    steps = [Refused("first"), Refused("'ERR' does not match"), None, None, 20.0]
    assert follow(steps, 2, 4) == [
        (0, "seen", 0.0),
        (2, BLIND, 2.0, "'ERR' does not match"),
        (5, "seen", 0.0),
        (5, 20.0),
    ]


def test_what_could_not_be_read_is_counted_at_once_and_then_every_five_seconds() -> None:
    """A source of its own tells it, so that it is no sign of life; a crash loses 5 s of it."""
    steps = [20.0, Refused("one"), 21.0, *[Refused(str(n)) for n in range(9)], 22.0]
    assert follow(steps, 60, 2, counts=True) == [
        (2, "probe.x.lines", 1, "one"),
        (7, "probe.x.lines", 5, "3"),
    ]


def test_a_vanished_instrument_is_blind_at_once_and_tried_ever_more_slowly() -> None:
    """The waits after failures grow to 5 s: 0.5, 1, 2, 5 s, each after a take of 1 s."""
    gone = BenchFault("probe.x", "has vanished")
    assert follow([20.0, gone, gone, gone, gone, 21.0], 60, 5) == [
        (0, "seen", 0.0),
        (1, 20.0),
        (2, BLIND, 1.0, "has vanished"),
        (14.5, "seen", 0.0),
        (14.5, 21.0),
    ]


def test_a_state_comes_first_even_when_nothing_is_ever_read() -> None:
    """Every source says at the start that it is there."""
    assert follow([None] * 9, 2, 1) == [(0, "seen", 0.0)]
