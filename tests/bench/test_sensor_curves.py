"""Thermocouple and platinum curves against the published tables."""

import pytest

from soak.bench.drivers.serial_lines import SerialLines, parse
from soak.bench.readings import Refused
from soak.bench.sensor_curves import pt100_degc, pt100_ohm, type_k_degc, type_k_mv

TYPE_K_TABLE = [
    (-200, -5.891),
    (0, 0.000),
    (20, 0.798),
    (25, 1.000),
    (50, 2.023),
    (100, 4.096),
    (150, 6.138),
    (200, 8.138),
    (300, 12.209),
]
"""degC and mV: NIST ITS-90 Thermocouple Database, table of type K, reference junction at 0 degC."""

PT100_TABLE = [
    (-50, 80.31),
    (0, 100.00),
    (10, 103.90),
    (25, 109.73),
    (50, 119.40),
    (100, 138.51),
    (150, 157.33),
    (200, 175.86),
]
"""degC and ohm: IEC 60751, table of the Pt100."""


@pytest.mark.parametrize(("degc", "mv"), TYPE_K_TABLE)
def test_type_k_agrees_with_the_table_both_ways(degc, mv):
    """The table ends at 1 uV: a fortieth of a kelvin, a fifteenth at -200 degC."""
    assert type_k_mv(degc) == pytest.approx(mv, abs=5.5e-4)
    assert type_k_degc(mv) == pytest.approx(degc, abs=0.04)


@pytest.mark.parametrize(("degc", "ohm"), PT100_TABLE)
def test_pt100_agrees_with_the_table_both_ways(degc, ohm):
    """The table's last place is 10 mohm, a fortieth of a kelvin."""
    assert pt100_ohm(degc) == pytest.approx(ohm, abs=5.5e-3)
    assert pt100_degc(ohm) == pytest.approx(degc, abs=0.02)


def test_a_warm_reference_junction_adds_its_voltage_and_not_its_temperature():
    """3.096 mV with terminals at 25 degC (1.000 mV) are 4.096 mV from 0 degC: 100 degC (NIST)."""
    assert type_k_degc(3.096, reference_degc=25.0) == pytest.approx(100.0, abs=0.04)


@pytest.mark.parametrize(
    ("printed_in", "more", "line", "degc"),
    [
        ("mV type K", {}, b"4.096\r\n", 100.0),
        ("mV type K", {"reference_degc": 25.0}, b"3.096\r\n", 100.0),
        ("ohm Pt100", {}, b"138.51\r\n", 100.0),
    ],
)
def test_a_probe_that_prints_the_sensor_reads_its_temperature(printed_in, more, line, degc):
    """The values of both tables at 100 degC, as a meter would print them."""
    wired = _probe(instrument_unit=printed_in, **more)
    assert parse(line, wired) == pytest.approx(degc, abs=0.04)


@pytest.mark.parametrize("line", [b"99.999", b"-9.000"])
def test_a_broken_thermocouple_reads_nothing(line):
    """No type K gives 100 mV or -9 mV at any temperature of its range."""
    with pytest.raises(Refused, match="broken or reversed"):
        parse(line, _probe(instrument_unit="mV type K"))


def test_a_reference_junction_without_a_thermocouple_is_refused():
    """A Pt100 has none: whoever states one has mixed something up."""
    with pytest.raises(ValueError, match="reference_degc belongs"):
        _probe(instrument_unit="ohm Pt100", reference_degc=25.0)


def _probe(**settings):
    return SerialLines(
        driver="serial_lines",
        port="/dev/serial/by-id/none",
        unit="degC",
        spot="heatsink",
        accuracy=1.0,
        resolution=0.1,
        pattern=r"(-?\d+\.\d+)",
        **settings,
    )
