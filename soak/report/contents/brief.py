"""A report on three screens of a phone: what a buyer reads before all the details."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from soak.report.contents import facts
from soak.report.model import Report, Untested
from soak.words import NOTHING_SAID, Message, Said, counted, joined, msg, sentence


@dataclass(frozen=True, slots=True)
class Told:
    """One thing that a buyer asks, and what the report answers, an entry a line.

    Attributes
    ----------
    against : bool
        Whether the entries speak against the unit.
    """

    title: Message
    entries: Sequence[Message]
    against: bool = False


def brief(report: Report) -> Sequence[Told]:
    """Return what a buyer asks first, in the order of worth; what has no answer is left out."""
    told = (
        *_asked(report, _untested(report)),
        Told(msg("What came from others or by hand"), report.from_others),
        Told(msg("Electrical safety"), (sentence(report.safety.in_short),)),
        Told(msg("Photographs"), tuple(photographs(report))),
        Told(msg("Is it genuine?"), (facts.signed(report), facts.how_to_check(report))),
    )
    return [part for part in told if part.entries]


def briefest(report: Report) -> Sequence[Told]:
    """Return what a listing has room for: what was not tested without the reasons why."""
    names = (one.what for one in report.not_tested)
    return [part for part in _asked(report, names) if part.entries]


def _asked(report: Report, untested: Iterable[Message]) -> Sequence[Told]:
    nothing = msg("nothing of the model sheet is left out")
    return (
        Told(msg("The unit"), tuple(_unit(report))),
        Told(msg("What FAILED"), report.failed, against=True),
        Told(msg("What was tested, and for how long"), tuple(_tested(report))),
        Told(msg("What was NOT tested"), tuple(untested) or (nothing,)),
        Told(msg("Known defects and limits"), report.known_limits, against=True),
    )


def photographs(report: Report) -> Iterator[Message]:
    """Say what the photographs show that go with the report."""
    shown = [photograph.what for photograph in report.photographs if not photograph.problem]
    if shown:
        yield joined("; ", shown)


def _unit(report: Report) -> Iterator[Message]:
    unit = report.unit
    yield joined(", ", [unit.model, unit.tag, msg("Serial {serial}", serial=unit.serial)])
    if report.grade.ready:
        yield msg("Sold as: {claim}", claim=report.claim.words)
    if report.repairs:
        repairs = joined("; ", [repair.what for repair in report.repairs])
        yield msg("Repaired: {repairs}", repairs=repairs)


def _tested(report: Report) -> Iterator[Message]:
    if report.shown:
        yield msg("Shown to work: {functions}", functions=joined("; ", report.shown))
    for soak in report.soaks:
        yield msg("soaked for {time}, {script}", time=soak.lasted, script=soak.script)
    yield from (count.large for count in report.counts)


def _untested(report: Report) -> Iterator[Message]:
    for why, untested in by_reason(report.not_tested):
        names = joined("; ", [one.what for one in untested])
        yield msg("{what} ({why})", what=names, why=why)


def by_reason(untested: Sequence[Untested]) -> Sequence[tuple[Message, Sequence[Untested]]]:
    """Return what was not tested by the reason why, so that each reason is said once."""
    groups: dict[tuple[Message, Message], list[Untested]] = {}
    for one in untested:
        groups.setdefault((one.why, one.because), []).append(one)
    return [(why, group) for (why, _), group in groups.items()]


def cut(entries: Sequence[Message], most: int) -> tuple[Sequence[Said], Message]:
    """Return the first entries, and how many more there are: none is dropped unsaid."""
    shown = len(entries) if len(entries) == most + 1 else most
    more = counted(
        len(entries) - shown,
        "and 1 more, named in the details",
        "and {count} more, named in the details",
        none=NOTHING_SAID,
    )
    return entries[:shown], more if len(entries) > shown else NOTHING_SAID
