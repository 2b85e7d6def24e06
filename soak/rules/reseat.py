"""Whether each plug-in worked, counted apart for each plug and each way up."""

from collections.abc import Sequence
from typing import Literal

from soak.derive.course import Course
from soak.derive.spans import holds
from soak.marks import PluggedIn, facts
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import but_for
from soak.rules.core.finding import Value, conclude, not_shown, not_tested
from soak.rules.core.pointed_at import pointed_at
from soak.rules.core.reads import Tried, failed_plug_ins
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.statistics.bounds import share_at_most
from soak.terms import terms
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Stated,
    begin,
    counted,
    msg,
    paragraph,
    sentence,
)

_METHOD = msg(
    "Failed plug-ins counted; one-sided upper bound of the failed share after Clopper & Pearson "
    "1934, NIST/SEMATECH e-Handbook 7.2.4.1"
)

Plug = Literal["usual", "new"]
Side = Literal["", "one way up", "the other way up"]


@terms
class ReseatTerms:
    """Plug-ins of one kind, and what a good one is.

    Attributes
    ----------
    port : str
        The unit's port, as the model sheet calls it.
    plug : str
        The usual plug, or a second, new one.
    side : str
        Which way up; empty: there is but one.
    promised : int
        So many plug-ins are made.
    seen_within_s : float
        So soon after the operator said that it is in, it must work, s.
    dwell_s : float
        It must then go on working so long with hands off, s.
    force : str
        How hard to push, as the card says it.
    at_least_speed_mbps : float or None
        Signalling rate that it must come up at, Mb/s; None: any.
    watched : bool
        Whether anything sees the port.
    """

    port: str = ""
    plug: Plug = "usual"
    side: Side = ""
    promised: int = 0
    seen_within_s: float = 10.0
    dwell_s: float = 0.0
    force: str = ""
    at_least_speed_mbps: float | None = None
    watched: bool = True


def _judge(need: Requirement, terms: ReseatTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` plug-ins of one kind failed, over all soaks together."""
    if not terms.watched:
        return not_tested(need, _unwatched(terms.port))
    allowed = need.limit or 0.0
    pointers = []
    tries = 0
    slowest_s = 0.0
    unclear = 0
    for course in soaks:
        for mark, plugged in _own(need, terms, course):
            dead = holds(mark.t_s, course.dead_spans)
            if dead or plugged.blind or not plugged.pulled:
                unclear += 1
                continue
            tries += 1
            slowest_s = max(slowest_s, plugged.took_s or 0.0)
            why = _failure(plugged, terms)
            if why:
                from_s = mark.t_s if plugged.from_s is None else plugged.from_s
                number = "" if plugged.number is None else str(plugged.number)
                what = msg("plug-in {number}: {why}", number=number, why=why)
                pointers.append(Pointer(course.header.soak_id, from_s, mark.t_s, what))
    failed = len(pointers)
    detail = {"plug_ins": tries, "failed": failed, "unclear": unclear, "slowest_s": slowest_s}
    if not tries:
        return not_shown(need, _none_clear(unclear), detail=detail)
    most = share_at_most(failed, tries, need.confidence or 0.95)
    value = Value(failed, bound_high=most, margin=allowed - failed, method=_METHOD, over=tries)
    worked = counted(
        tries,
        "{good} of 1 plug-in worked",
        "{good} of {count} plug-ins worked",
        good=tries - failed,
    )
    if failed > allowed:
        first = msg("First: {what}.", what=pointers[0].what)
        because = paragraph(sentence(worked), first)
        return conclude(
            need, Verdict.NOT_MET, because, found=value, pointers=pointers, detail=detail
        )
    if tries < terms.promised:
        why = msg(
            "only {tries} of {promised} plug-ins could be followed",
            tries=tries,
            promised=terms.promised,
        )
        return not_shown(need, why, value, pointers=pointers, detail=detail)
    return conclude(
        need, Verdict.MET, sentence(worked), found=value, pointers=pointers, detail=detail
    )


def _unwatched(port: str) -> Message:
    if port:
        return msg("neither link nor capture is at the port {port}", port=port)
    return msg("neither link nor capture is at the port of the unit")


def _none_clear(unclear: int) -> Message:
    return counted(
        unclear,
        "1 plug-in could not be followed",
        "{count} plug-ins could not be followed",
        none=msg("none was made"),
    )


def _own(need: Requirement, terms: ReseatTerms, course: Course) -> list[tuple[Mark, PluggedIn]]:
    return [
        (mark, plugged)
        for mark, plugged in facts(course, PluggedIn)
        if mark.stretch == need.stretch and (plugged.plug, plugged.side) == (terms.plug, terms.side)
    ]


def _failure(plugged: PluggedIn, terms: ReseatTerms) -> Message:
    """Return why a plug-in failed; empty if it worked."""
    took_s = plugged.took_s or 0.0
    if not plugged.seen:
        return msg("nothing came within {time}", time=Amount(terms.seen_within_s, "s"))
    if took_s > terms.seen_within_s:
        return msg("it took {time}", time=Amount(took_s, "s"))
    if not plugged.held:
        return msg("it went again within {time}, hands off", time=Amount(terms.dwell_s, "s"))
    wanted = terms.at_least_speed_mbps
    speed = plugged.speed_mbps
    if not wanted or (speed is not None and speed >= wanted):
        return NOTHING_SAID
    if not speed:
        return msg("its speed could not be read")
    return msg("it came up at {speed}", speed=Stated(speed, "Mb/s"))


def _all_work(need: Requirement, terms: ReseatTerms) -> Message:
    return but_for(need, _each_works(need, terms))


def _each_works(need: Requirement, terms: ReseatTerms) -> Message:
    each = begin(_each(terms))
    within = Amount(terms.seen_within_s, "s")
    dwell = Amount(terms.dwell_s, "s")
    if need.quantity == "capture":
        return msg(
            "{each} shows a picture within {within}, and stays for {dwell}",
            each=each,
            within=within,
            dwell=dwell,
        )
    if not terms.at_least_speed_mbps:
        return msg(
            "{each} enumerates within {within}, and stays for {dwell}",
            each=each,
            within=within,
            dwell=dwell,
        )
    return msg(
        "{each} enumerates within {within} at {speed} or more, and stays for {dwell}",
        each=each,
        within=within,
        speed=Stated(terms.at_least_speed_mbps, "Mb/s"),
        dwell=dwell,
    )


def _each(terms: ReseatTerms) -> Message:
    named = {
        ("usual", ""): msg("each plug-in of the usual plug"),
        ("usual", "one way up"): msg("each plug-in of the usual plug, one way up"),
        ("usual", "the other way up"): msg("each plug-in of the usual plug, the other way up"),
        ("new", ""): msg("each plug-in of the new plug"),
        ("new", "one way up"): msg("each plug-in of the new plug, one way up"),
        ("new", "the other way up"): msg("each plug-in of the new plug, the other way up"),
    }
    return named[terms.plug, terms.side]


RESEATS = Rule(
    name="reseats",
    terms=ReseatTerms,
    judge=_judge,
    demands=_all_work,
    reads=Tried(bound_words=failed_plug_ins),
    lacks=lacks.time,
    section=Section.HAND,
    bounds=Bounds.SHARE,
    beyond=pointed_at(_judge, "plug-in", ""),
)
