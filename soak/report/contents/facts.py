"""Lines that all pages, paper and pictures put together from a report in the same way."""

from collections.abc import Sequence

from soak.names import named
from soak.report.contents.given import moment
from soak.report.model import Instrument, Report, Soak, Stretch, Wear
from soak.words import NOTHING_SAID, Message, begin, counted, joined, just, msg, paragraph, sentence

Fact = tuple[Message, Message]
"""A name and its value."""

SIMULATED = msg("SIMULATED")
MADE_UP = msg("SIMULATED. No real unit was tested; every reading comes from a model.")
CHECKER = "check-a-report.html"
"""The page with which a buyer checks a file: it works offline and needs no program."""
_ATTENDED = named("attended")


def grade(report: Report) -> Message:
    """Say the grade, as a heading."""
    if not report.grade.ready:
        return begin(report.grade.words)
    return joined(", ", [msg("Ready for sale"), report.grade.as_far_as])


def title(report: Report) -> Message:
    """Say which unit it is and its grade."""
    name = joined(" ", [report.unit.model, report.unit.tag])
    text = msg("{unit}: {grade}", unit=name, grade=grade(report))
    return (
        msg("{simulated}: {title}", simulated=SIMULATED, title=text) if report.simulated else text
    )


def claim(report: Report) -> Message:
    """Say what the word claims that the unit is sold under, and what others would."""
    own, *others = (
        msg("{claim}: {means}", claim=begin(stated.words), means=stated.means)
        for stated in (report.claim, *report.other_claims)
    )
    return paragraph(own, msg("That is not what other words claim."), *others)


def unit_facts(report: Report) -> list[Fact]:
    """Return what identifies the unit."""
    unit = report.unit
    masked = report.unit.serial_masked
    return _known(
        (msg("Model"), just(unit.model)),
        (msg("Kind"), just(unit.kind)),
        (msg("Bench tag"), unit.tag),
        (msg("Serial (masked)") if masked else msg("Serial"), unit.serial),
        (msg("Year made"), just(unit.year_made) if unit.year_made else NOTHING_SAID),
        (msg("Condition"), unit.condition),
        (msg("Received"), unit.received_on),
        (msg("Data"), unit.wiped),
        (msg("Sold as"), report.claim.words if report.grade.ready else NOTHING_SAID),
    )


def soak_title(number: int, report: Report) -> Message:
    """Say which soak of the report it is; `number` counts from 1."""
    script = report.soaks[number - 1].script
    soaks = len(report.soaks)
    return msg("Soak {number} of {all}: {script}", number=number, all=soaks, script=script)


def soak_facts(soak: Soak) -> list[Fact]:
    """Return what is to be known of one soak."""
    return _known(
        (msg("Began (UTC)"), moment(soak.began_utc)),
        (msg("Lasted"), soak.lasted),
        (msg("Ended"), soak.ended),
        (msg("Wear by this soak"), wear_words(soak.wear)),
        (msg("Resumed (UTC)"), joined(", ", map(moment, soak.resumed_utc))),
        (msg("The capture delivered"), soak.stream),
    )


def about(report: Report) -> list[Fact]:
    """Return who vouches for the report, for whom, and when."""
    issuer = report.issuer
    edition = msg("Report, edition {number}", number=report.edition)
    return _known(
        (msg("Issued by"), issuer.bench),
        (msg("Address"), issuer.address),
        (msg("Tested at"), issuer.location),
        (msg("Authorised by"), issuer.authorised_by),
        (msg("Tested for"), issuer.customer),
        (msg("Tested on"), report.performed),
        (msg("Issued (UTC)"), moment(report.issued_utc)),
        (edition, just(report.report_id)),
    )


def signed(report: Report) -> Message:
    """Say by whose key a report is signed, for people to compare; or that it is not."""
    if not report.signed_by:
        return msg("Not signed")
    groups = report.signed_by.split()
    half = len(groups) // 2  # a line breaks in the middle or not at all
    lines = ("\u00a0".join(part) for part in (groups[:half], groups[half:]))
    return msg("Signed by the key {fingerprint}", fingerprint=" ".join(lines))


def how_to_check(report: Report) -> Message:
    """Say how to find out whether a report was changed, and what must not be trusted for that."""
    if not report.signed_by:
        return msg("Nobody can tell whether it was changed after it was made.")
    return msg(
        "To check, give this file and the key's fingerprint to soak's page {page}; take page and "
        "fingerprint from where the bench is known, never only from whoever sent the file.",
        page=CHECKER,
    )


def _known(*facts: Fact) -> list[Fact]:
    return [fact for fact in facts if fact[1]]


def wear_words(wear: Wear) -> Message:
    """Say what soaking cost the unit."""
    return joined(
        ", ",
        [
            counted(wear.starts, "1 start", "{count} starts"),
            msg("{time} powered", time=wear.powered),
            msg("{size} written", size=wear.written),
        ],
    )


def stretch_words(part: Stretch) -> Message:
    """Say how a part of the script went."""
    name = part.name
    if part.attended and name != _ATTENDED:
        name = msg("{stretch} (attended)", stretch=name)
    return msg(
        "{stretch}: planned {planned}, observed {observed}, ended: {ended}",
        stretch=name,
        planned=part.planned,
        observed=part.observed,
        ended=part.ended,
    )


def method(report: Report) -> Message:
    """Say by which rules and program the unit was judged."""
    how = report.method
    return sentence(
        msg(
            "{rules}, {program}; {sampling}",
            rules=how.rules,
            program=how.program,
            sampling=how.sampling,
        )
    )


def instrument_words(one: Instrument) -> Message:
    """Say what an instrument is and how far it is to be trusted."""
    return joined(
        ", ",
        [
            one.name,
            one.kind,
            one.known_as,
            msg("driver {name}", name=one.driver) if one.driver else None,
            msg("accuracy {value}", value=one.accuracy) if one.accuracy else None,
            msg("calibrated: {how}", how=one.calibration) if one.calibration else None,
            one.proved,
        ],
    )


def more_frames(soak: Soak) -> Message:
    """Say how many pictures the bench keeps beside those of the page; nothing if none."""
    return counted(
        soak.more_frames,
        "1 more picture is kept by the bench.",
        "{count} more pictures are kept by the bench.",
        none=NOTHING_SAID,
    )


def each_title(report: Report) -> Sequence[Message]:
    """Return the titles of a report's soaks."""
    return [soak_title(number, report) for number in range(1, len(report.soaks) + 1)]
