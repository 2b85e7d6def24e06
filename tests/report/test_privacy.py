"""The buyer's page tells everything that matters and nothing private."""

from dataclasses import replace

import pytest

from soak.report.contents.sheet import gather
from soak.report.output.files import as_json
from soak.report.output.html import page
from soak.report.output.privacy import for_buyer, masked, scrubbed
from soak.words import msg

PRIVATE = [
    "/home/bench", "/dev/", "bench-pc", "ttyACM0", "dropped by the buyer", "moved the desk lamp",
    "SP40-118204", "relay board 4", "USB capture 7", "serial_text", "Ada",
]  # fmt: skip


@pytest.mark.parametrize("words", PRIVATE)
def test_what_is_private_is_not_on_the_buyers_page(words, sheet):
    """Paths, hosts, causes, names, identities and the serial stay with the bench."""
    assert words not in page(for_buyer(sheet))


@pytest.mark.parametrize("words", ["/dev/", "moved the desk lamp", "SP40-118204", "USB capture 7"])
def test_the_bench_page_has_it_all(words, sheet):
    """What the buyer's page leaves out is on the bench's."""
    assert words in page(sheet)


def test_grade_verdicts_and_limits_are_the_same_for_both(sheet):
    """Nothing material is hidden from the buyer."""
    said, buyer = sheet.report, for_buyer(sheet).report
    assert (buyer.grade.ready, buyer.grade.words) == (said.grade.ready, said.grade.words)
    assert buyer.grade.open_points == said.grade.open_points
    assert [(t.id, t.verdict, t.found, t.limit) for t in buyer.tested] == [
        (t.id, t.verdict, t.found, t.limit) for t in said.tested
    ]
    assert [n.what for n in buyer.not_tested] == [n.what for n in said.not_tested]
    assert buyer.known_limits == said.known_limits
    assert buyer.soaks_in_one_line == said.soaks_in_one_line
    assert [h.lasts for h in buyer.soaks[0].holes] == [h.lasts for h in said.soaks[0].holes]
    assert (buyer.report_id, buyer.issuer) == (said.report_id, said.issuer)


@pytest.mark.parametrize(
    ("serial", "shown"),
    [("SP40-118204", "••••••••204"), ("AB12", "•••2"), ("AB", "••"), ("", "")],
)
def test_a_serial_is_masked_to_its_last_characters(serial, shown):
    """At most three characters, and never more than a third, can be read."""
    assert masked(serial) == shown


def test_a_serial_is_shown_in_full_if_asked_for(sheet):
    """The seller may decide to print it."""
    assert for_buyer(sheet, show_serial=True).report.unit.serial == "SP40-118204"


@pytest.mark.parametrize(
    "private",
    [
        "/dev/ttyUSB3", "C:\\Users\\ada\\soak.toml", "\\\\server\\share\\x", "~/bench/one.toml",
        "rtsp://10.0.0.7/1", "ada@bench-pc", "192.168.1.20", "bench.local", "COM7", "£45.00",
        "120 EUR", "35 €", "35,50 €", "12 £", "35,- €", "€ 35,-", "EUR 35", "35 Euro", "USD 12.50",
        "D:\\kunden.xlsx", "C:\\Program Files\\x", "D:/jobs/one.toml", "/root", "~/notes.txt",
        "fe80::1ff:fe23", "::1", "2001:db8:0:0:0:0:0:1", "00:1b:44:11:3a:b7", "00-1B-44-11-3A-B7",
        "usb 1-2.3", "usb 3-1", "1-2.3:1.0",
    ],
)  # fmt: skip
def test_free_text_is_scrubbed_of_what_looks_private(private):
    """Wherever it stands in a sentence, it goes and the sentence stays."""
    assert scrubbed(f"seen at {private} today") == "seen at (left out) today"


@pytest.mark.parametrize(
    "plain",
    [
        "63 of 63 starts worked", "28.00 MB/s", "run/picture/no dropout", "at most 70.0 °C",
        "2026-03-01T20:00:00Z", "and/or", "judging rules 4", "SHA-256 ab12",
        "12:34:56", "at 20:15", "starts 1-2", "on/off", "1-2.5 s", "a :: b", "ports 1-2",
        "Aussetzer: keiner", "12 V / 2 A", "volts: 5", "2026-03-01", "link 480 Mb/s",
    ],
)  # fmt: skip
def test_plain_words_are_not_scrubbed(plain):
    """Figures, dates, rates and requirement names stay as they are."""
    assert scrubbed(plain) == plain


def test_how_faults_lie_in_time_is_the_benchs_own(sheet):
    """The bench reads of the halves of a night; the buyer's reason leaves that message out."""
    assert "Early half" in page(sheet)
    assert "Early half" not in page(for_buyer(sheet))
    assert "Early half" not in as_json(for_buyer(sheet).report)


def test_a_unit_without_a_serial_has_none_to_mask(make_night, make_judgement, make_context):
    """`none` is our own word: masked, it would look like the end of a serial."""
    unit = replace(make_night().header.unit, serial="")
    sheet = gather(make_judgement(), [make_night(unit=unit)], make_context())
    assert for_buyer(sheet).report.unit.serial == "none"


def test_words_of_the_program_are_never_scrubbed(make_night, make_judgement, make_context):
    """A section of a handbook looks like an address, a method is still printed whole."""
    method = msg(
        "NIST/SEMATECH e-Handbook {section} by {host}", section=msg("7.2.4.1"), host="10.0.0.7"
    )
    findings = tuple(replace(one, method=method) for one in make_judgement().findings)
    sheet = gather(make_judgement(findings=findings), [make_night()], make_context())
    told = for_buyer(sheet).report.tested[0].method
    assert told == "NIST/SEMATECH e-Handbook 7.2.4.1 by (left out)"


def test_a_buyers_drawing_shows_nothing_private_either(make_night, make_judgement, make_context):
    """A spot may be called by a path: neither legend nor description of the chart prints it."""
    sheet = make_night().header.model_sheet.model_dump(mode="json")
    spots = {"outside": {"text": "probe at /dev/ttyUSB7", "limit_degc": 70.0}}
    night = make_night(model_sheet={**sheet, "spots": spots})
    made = gather(make_judgement(), [night], make_context())
    assert "/dev/ttyUSB7" in page(made)
    assert "/dev/ttyUSB7" not in page(for_buyer(made))
    assert "probe at (left out)" in page(for_buyer(made))
