"""What evidence shows, and how much of it is needed: answered both ways, in words and as data.

Pure arithmetic on figures typed by the operator; nothing is opened and nothing is recorded.
"""

import json
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from soak.errors import UsageError, told_of
from soak.judge.planning import gap_of_plan, hours_plan, starts_plan
from soak.settings import read_duration
from soak.statistics.compare import (
    chance_by_luck,
    chance_of_passing,
    compare_rates,
    quiet_needed,
)
from soak.statistics.plans import HoursPlan, StartsPlan
from soak.words import (
    Amount,
    Data,
    Message,
    Number,
    Output,
    Percent,
    counted,
    indented,
    joined,
    lines_of,
    msg,
    sentence,
)

BOUTS = msg("Give bouts, not faults: what comes close together is one, and in doubt all are one.")


def gone(
    seen: int, seen_in: str, clean: str, again: int, chance: float, *, as_json: bool
) -> Output:
    """Answer whether a fault seen before a repair is gone, and how long must be quiet for that.

    Raises
    ------
    UsageError
        If a figure is impossible.
    """
    with possible():
        before_h = read_hours(seen_in, "--in")
        needed_h = quiet_needed(seen, before_h, chance)
        data: dict[str, Any] = {
            "seen": seen,
            "seen_in_h": before_h,
            "chance_allowed": chance,
            "quiet_needed_h": needed_h,
        }
        lines = [
            counted(
                seen,
                "Seen once in {time} before the repair: after {needed} without it, the chance of "
                "that silence with the fault still there is {chance}.",
                "Seen in {count} bouts in {time} before the repair: after {needed} without it, the "
                "chance of that silence with the fault still there is {chance}.",
                time=in_hours(before_h),
                needed=in_hours(needed_h),
                chance=Percent(chance, 1),
            ),
            BOUTS,
        ]
        if clean:
            lines += _since(data, read_hours(clean, "--clean"), again)
        elif again:
            raise UsageError(
                msg("--again says how often it came again; --clean is missing: in how long?")
            )
    return answer(data, lines, as_json=as_json)


def _since(data: dict[str, Any], clean_h: float, again: int) -> list[Message]:
    seen = data["seen"]
    before_h = data["seen_in_h"]
    if again:
        comparison = compare_rates(again, clean_h, seen, before_h)
        data |= {"clean_h": clean_h, "again": again, "chance_fewer": comparison.fewer}
        data |= {"method": comparison.method}
        return [
            counted(
                again,
                "It came again once in {time}: it is not gone. That it comes so seldom would be "
                "luck in {chance} of cases if nothing had changed.",
                "It came again {count} times in {time}: it is not gone. That it comes so seldom "
                "would be luck in {chance} of cases if nothing had changed.",
                time=in_hours(clean_h),
                chance=Percent(comparison.fewer, 1),
            ),
            sentence(comparison.method),
        ]
    luck = chance_by_luck(seen, before_h, clean_h)
    lacking_h = data["quiet_needed_h"] - clean_h
    data |= {"clean_h": clean_h, "again": 0, "chance": luck, "lacking_h": max(0.0, lacking_h)}
    verdict = (
        msg("{time} more are needed", time=in_hours(lacking_h))
        if lacking_h > 0
        else msg("that is enough")
    )
    return [
        msg(
            "{time} were quiet: the chance is {luck}; {verdict}.",
            time=in_hours(clean_h),
            luck=Percent(luck, 1),
            verdict=verdict,
        )
    ]


def tries(passes: float, number: int, *, as_json: bool) -> Output:
    """Answer how often a bad unit passes at least one of several tries.

    Raises
    ------
    UsageError
        If a figure is impossible.
    """
    with possible():
        once = chance_of_passing(passes, number)
    data = {"passes": passes, "tries": number, "passes_one": once}
    lines = [
        msg(
            "A unit that passes one try with a chance of {passes} passes at least one of {number} "
            "with {once}.",
            passes=Percent(passes),
            number=number,
            once=Percent(once),
        ),
        msg("So all soaks of a job are judged together, and a failed one is not forgotten."),
    ]
    return answer(data, lines, as_json=as_json)


def plan(good: str, bad: str, alpha: float, beta: float, *, as_json: bool) -> Output:
    """Make a truncated sequential plan: for starts from shares, for hours from mean times.

    Raises
    ------
    UsageError
        If the figures contradict one another.
    """
    shares = [_number(text) for text in (good, bad)]
    with possible():
        if all(share is not None and share <= 1 for share in shares):
            return _plan_starts(shares[0] or 0.0, shares[1] or 0.0, alpha, beta, as_json=as_json)
        times = [read_hours(text, name) for text, name in ((good, "--good"), (bad, "--bad"))]
        return _plan_hours(times[0], times[1], alpha, beta, as_json=as_json)


def _plan_starts(good: float, bad: float, alpha: float, beta: float, *, as_json: bool) -> Output:
    made = starts_plan(good, bad, alpha, beta)
    at_good = made.outlook(good)
    at_bad = made.outlook(bad)
    data = {
        "kind": "starts",
        "longest": made.longest,
        "shortest_good": made.shortest,
        "usual_good": at_good.expected,
        "usual_bad": at_bad.expected,
        "good_rejected": 1 - at_good.accepted,
        "bad_accepted": at_bad.accepted,
        "accept_up_to": list(made.accept_up_to),
        "reject_from": list(made.reject_from),
    }
    lines = [
        msg(
            "At most {longest} starts; plan the night for that. A unit that fails {good} of them "
            "is done after {usual_good} on average, one that fails {bad} after {usual_bad}.",
            longest=made.longest,
            good=share_words(good),
            usual_good=Number(at_good.expected, ".0f"),
            bad=share_words(bad),
            usual_bad=Number(at_bad.expected, ".0f"),
        ),
        *_rule_of(made),
        *_risks(1 - at_good.accepted, at_bad.accepted),
        *_in_a_script("warm starts", f"{good:g}", f"{bad:g}", alpha=alpha, beta=beta),
    ]
    return answer(data, lines, as_json=as_json)


def _rule_of(made: StartsPlan) -> list[Message]:
    """Write a plan as one line for each number of failures."""
    lines = []
    for failed in range(max(made.reject_from) + 1):
        accept = next((n for n, most in enumerate(made.accept_up_to, 1) if most >= failed), None)
        reject = [
            n for n, least in enumerate(made.reject_from, 1) if least <= failed and n >= failed
        ]
        allowed = []
        if reject and failed:
            allowed.append(
                msg("not shown to be good if it is reached by start {start}", start=reject[-1])
            )
        if accept is not None:
            allowed.append(msg("good from start {start} on", start=max(accept, failed)))
        lines.append(
            indented(msg("{failed} failed: {then}", failed=failed, then=joined("; ", allowed)))
        )
    return lines


def _plan_hours(good: float, bad: float, alpha: float, beta: float, *, as_json: bool) -> Output:
    made = hours_plan(good, bad, alpha, beta)
    at_good = made.outlook(good)
    at_bad = made.outlook(bad)
    data = {
        "kind": "hours",
        "longest_h": made.longest,
        "shortest_good_h": made.shortest,
        "usual_good_h": at_good.expected,
        "usual_bad_h": at_bad.expected,
        "good_rejected": 1 - at_good.accepted,
        "bad_accepted": at_bad.accepted,
        "accept_at_h": list(made.accept_at),
        "reject_at_h": [t if t > 0 else None for t in made.reject_at],
        "gap_h": gap_of_plan(bad),
    }
    lines = [
        msg(
            "At most {longest}; plan for that. A unit with a bout of faults in {good} is done "
            "after {usual_good} on average, one with a bout in {bad} after {usual_bad}.",
            longest=in_hours(made.longest),
            good=in_hours(good),
            usual_good=in_hours(at_good.expected),
            bad=in_hours(bad),
            usual_bad=in_hours(at_bad.expected),
        ),
        msg("Faults less than {gap} apart are one bout.", gap=in_hours(gap_of_plan(bad))),
        *_rule_of_hours(made),
        *_risks(1 - at_good.accepted, at_bad.accepted),
        *_in_a_script("hours", f'"{good:g} h"', f'"{bad:g} h"', alpha=alpha, beta=beta),
    ]
    return answer(data, lines, as_json=as_json)


def _rule_of_hours(made: HoursPlan) -> list[Message]:
    lines = [indented(msg("no fault: good at {time}", time=in_hours(made.accept_at[0])))]
    for failed in range(1, len(made.reject_at) + 1):
        allowed = []
        reject_h = made.reject_at[failed - 1]
        if reject_h > 0:
            allowed.append(
                msg("not shown to be good if it comes by {time}", time=in_hours(reject_h))
            )
        if failed < len(made.accept_at):
            allowed.append(msg("good at {time}", time=in_hours(made.accept_at[failed])))
        lines.append(
            indented(msg("bout {number}: {then}", number=failed, then=joined("; ", allowed)))
        )
    return lines


def _risks(good_rejected: float, bad_accepted: float) -> list[Message]:
    return [
        msg(
            "True risks, computed exactly: the good unit is turned away in {good}, the bad one "
            "accepted in {bad} of cases.",
            good=Percent(good_rejected, 1),
            bad=Percent(bad_accepted, 1),
        ),
        msg("Stopping early is honest only by such a rule, fixed before the first start."),
    ]


def _in_a_script(of: str, good: str, bad: str, alpha: float, beta: float) -> list[Message]:
    written = [
        "[stretch.plan]",
        f'of = "{of}"',
        f"good = {good}",
        f"bad = {bad}",
        f"good_rejected = {alpha:g}",
        f"bad_accepted = {beta:g}",
    ]
    return [msg("To let it end a stretch of a script:"), *map(indented, written)]


def read_hours(text: str, name: str) -> float:
    """Read hours from a plain number of hours or a duration with its unit, `"7 h"`, `"90 min"`.

    Raises
    ------
    UsageError
        If it is neither.
    """
    plain = _number(text)
    if plain is not None:
        return plain
    try:
        return read_duration(text) / 3600
    except ValueError as fault:
        raise UsageError(
            msg("{name}: {why}; a plain number is hours", name=name, why=told_of(fault))
        ) from None


def mean_h(text: str) -> float:
    """Read what is to be shown: a mean time, `"100 h"`, or faults per hour, `0.01`."""
    per_h = _number(text)
    if per_h is None:
        return read_hours(text, "--show")
    if not math.isfinite(per_h) or per_h <= 0:
        raise UsageError(
            msg("--show {text}: give faults per hour, such as 0.01, or a time, 100 h", text=text)
        )
    return 1 / per_h


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def one_of(name: Message, one: object, other_name: Message, other: object) -> None:
    """Refuse neither of two options, and both."""
    given = [value is not None and value != "" for value in (one, other)]
    if sum(given) != 1:
        raise UsageError(
            msg("give either {name}, or {other_name}", name=name, other_name=other_name)
        )


@contextmanager
def possible() -> Iterator[None]:
    """Turn an impossible figure into a sentence for the operator."""
    try:
        yield
    except ValueError as fault:
        raise UsageError(told_of(fault)) from None


def answer(data: dict[str, Any], lines: Sequence[Message], *, as_json: bool) -> Output:
    """Return figures for a program, or lines for a person."""
    return Data(json.dumps(data, indent=2, allow_nan=False)) if as_json else lines_of(lines)


def share_words(share: float) -> Message:
    """Say a share in percent, and as one in so many."""
    percent = Number(100 * share, ".3g")
    if not 0 < share < 0.5:
        return msg("{percent} %", percent=percent)
    so_many = Number(1 / share, ".0f" if share < 0.1 else ".3g")
    return msg("{percent} % (1 in {so_many})", percent=percent, so_many=so_many)


def in_hours(length_h: float) -> Amount | Message:
    """Say a time given in hours."""
    if length_h < 100:
        return Amount(length_h * 3600, "s")
    return msg("{hours} h", hours=Number(length_h, ".0f"))
