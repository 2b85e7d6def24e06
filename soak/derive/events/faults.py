"""Faults of the unit in order of time, whatever is demanded of it."""

from dataclasses import dataclass

from soak.derive.course import CROSSING, Course
from soak.derive.events.trips import Whose, trips
from soak.derive.events.wrong_data import transfer_words, wrong_transfers
from soak.derive.header_terms import unit_terms
from soak.derive.said import EPISODES_TOLD, failed_words, state_words
from soak.derive.starting.starts import undecided
from soak.frozen.wiring import role_of
from soak.instruments import LOSABLE, ROLES, WATCHES, gone_kind, watchers_at
from soak.marks import CarriedFile, facts
from soak.records import Header, Requirement
from soak.states import lost
from soak.terms import LossTerms, params_of, part_from
from soak.words import Amount, Message, msg


@dataclass(frozen=True, slots=True)
class UnitFault:
    """A fault of the unit.

    Attributes
    ----------
    kind : str
        `dropout`, `restart`, `hang`, `failed start`, `wrong data`, `trip`, or what went from its
        port: `stick gone`, `link gone`.
    text : Message
        What happened, in a few plain words.
    source : str
        What saw it.
    state : str
        What the source was then seen to be; empty where it is no state.
    """

    from_s: float
    to_s: float
    kind: str
    text: Message
    source: str
    state: str = ""


@dataclass(frozen=True, slots=True)
class Terms:
    """What counts as a loss of the picture, as a requirement or the model sheet says.

    Attributes
    ----------
    bad : frozenset of str
        States that are a loss.
    at_least_s, gap_s : float
        Shortest loss that counts by itself; losses so close are one episode.
    usual_start_s : float or None
        Usual time from power to picture, s.
    """

    bad: frozenset[str]
    at_least_s: float
    gap_s: float
    usual_start_s: float | None


def terms_of(requirement: Requirement | None, header: Header) -> Terms:
    """Return what counts as a loss for a requirement; what it leaves open the header says."""
    stated = dict(requirement.params) if requirement else {}
    if "bad" not in stated:
        stated = {**params_of(unit_terms(header)), **stated}
    told = part_from(LossTerms, stated)
    return Terms(
        bad=lost("capture", header.model_sheet) if told.bad is None else frozenset(told.bad),
        at_least_s=told.at_least_s,
        gap_s=told.episode_gap_s,
        usual_start_s=told.usual_start_s,
    )


def lost_by(header: Header) -> dict[str, frozenset[str]]:
    """Return which states speak against the unit while it runs, by the sources that can do so.

    A stick whose data does not cross the unit's port, or a link that watches a port of the bench,
    says nothing of the unit.
    """
    at_unit = watchers_at(header.fixture)
    crosses = header.fixture.stick_path in CROSSING
    silent = {role for role in WATCHES if role not in at_unit} | (set() if crosses else {"stick"})
    return {source: lost_states(source, header) for source in LOSABLE if source not in silent}


def lost_states(source: str, header: Header) -> frozenset[str]:
    """Return which states of a source are a loss in a soak, where no requirement says otherwise."""
    if source == "capture":
        return terms_of(None, header).bad
    return lost(source, header.model_sheet)


def unit_faults(course: Course, terms: Terms | None = None) -> list[UnitFault]:
    """Return the faults of the unit in order of time; what lies in doubt is not among them."""
    terms = terms or terms_of(None, course.header)
    found = [
        *failed_starts(course),
        *picture_faults(course, terms),
        *(fault for role in LOSABLE for fault in port_faults(course, role)),
        *wrong_data(course),
        *carried_wrong(course),
        *trip_faults(course),
    ]
    return sorted(found, key=in_order)


_FOLLOWS = frozenset(gone_kind(role) for role in WATCHES)


def in_order(fault: UnitFault) -> tuple[float, bool, str]:
    """Return what faults are sorted by: a restart comes before what it takes along at once."""
    return fault.from_s, fault.kind in _FOLLOWS, fault.kind


def failed_starts(course: Course, limit_s: float | None = None) -> list[UnitFault]:
    """Return the starts that failed; `limit_s` as a requirement states it, else as derived."""
    if limit_s is None:
        limit_s = course.start_limit().limit_s
    found = []
    for start in course.starts:
        if not start.failure(limit_s) or undecided(start, limit_s, course.holes("capture")):
            continue
        text = failed_words(start)
        to_s = start.ended_s if start.ended_s is not None else start.t_on
        found.append(UnitFault(start.t_on, to_s, "failed start", text=text, source="capture"))
    return found


def picture_faults(course: Course, terms: Terms) -> list[UnitFault]:
    """Return dropouts that are long enough, restarts and hangs."""
    found = []
    for episode in course.episodes("capture", terms.bad, terms.gap_s, terms.usual_start_s):
        if episode.kind == "dropout" and episode.longest_s < terms.at_least_s:
            continue
        state = episode.dropouts[0].state
        text = msg(
            "{what} ({state}) for {time}",
            what=EPISODES_TOLD[episode.kind],
            state=state_words(state),
            time=Amount(episode.to_s - episode.from_s, "s"),
        )
        found.append(
            UnitFault(
                episode.from_s, episode.to_s, episode.kind, text=text, source="capture", state=state
            )
        )
    return found


def port_faults(course: Course, source: str) -> list[UnitFault]:
    """Return when what a source is or watches went from the unit's port; none of another port."""
    told = ROLES[role_of(source)].at_port
    bad = lost_by(course.header).get(source)
    if told is None or bad is None:
        return []
    return [
        UnitFault(
            one.from_s,
            one.to_s,
            gone_kind(source),
            text=told.gone_for(Amount(one.to_s - one.from_s, "s")),
            source=source,
        )
        for one in course.episodes(source, bad)
    ]


def wrong_data(course: Course) -> list[UnitFault]:
    """Return the transfers that something was wrong with; not one beside a hole of the stick."""
    return [
        UnitFault(one.t_s, one.t_s, "wrong data", text=transfer_words(one), source="stick")
        for one in wrong_transfers(course)
    ]


def carried_wrong(course: Course) -> list[UnitFault]:
    """Return the carried files that came changed; not where the stick may have changed them."""
    return [
        UnitFault(mark.t_s, mark.t_s, "wrong data", text=_changed(file.name), source="stick")
        for mark, file in facts(course, CarriedFile)
        if file.came == "changed" and file.original_whole
    ]


def _changed(name: str) -> Message:
    return msg("file {name} changed", name=name)


def trip_faults(course: Course) -> list[UnitFault]:
    """Return when the guard cut the power because the unit passed a limit."""
    return [
        UnitFault(trip.t_s, trip.t_s, "trip", text=trip.told, source=trip.source)
        for trip in trips(course)
        if trip.whose is Whose.UNIT
    ]
