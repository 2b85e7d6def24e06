"""Days, hours and prices as people write them."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from soak.errors import LedgerError
from soak.words import Message, msg

Clock = Callable[[], datetime]
"""Says what time it is, with its UTC offset; tests and the simulated bench have their own."""

THE_DAY = msg("the day")
_HOUR_FOLLOWS = re.compile(r"(?<=\d)t(?=\d)")
_PRICE = re.compile(r"\d{1,9}(?:[.,]\d{1,2})?")


def local_now() -> datetime:
    """Return the computer's local time with its UTC offset."""
    return datetime.now().astimezone()


@dataclass(frozen=True, slots=True)
class When:
    """When something happened.

    Attributes
    ----------
    day : date
        On the bench's calendar.
    at : datetime or None
        The minute, local time with its UTC offset; None where only the day is known.
    recorded_utc : str
        When the entry was made, RFC 3339; empty where that is of no matter.
    doubtful : bool
        Whether it was taken from a clock that had been set back: then it orders nothing.
    """

    day: date
    at: datetime | None = None
    recorded_utc: str = ""
    doubtful: bool = False

    def before(self, other: "When") -> bool:
        """Tell whether it was surely before another: by the minute where both are known."""
        if self.doubtful or other.doubtful:
            return False
        if self.at is not None and other.at is not None:
            return self.at < other.at
        return self.day < other.day

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M}" if self.at is not None else self.day.isoformat()


def minute_of(utc: str) -> datetime:
    """Return the minute of an RFC 3339 time on the bench's own clock."""
    return datetime.fromisoformat(utc).astimezone().replace(second=0, microsecond=0)


def read_when(
    given: date | str | None, now: datetime, what: Message = THE_DAY, *, set_back: bool = False
) -> When:
    """Read a day, or a day and an hour; None is now.

    Parameters
    ----------
    given : date, str or None
        `2026-03-14`, `2026-03-14 11:30`, `today 11:30`, `yesterday`; a `datetime`.
    what : Message
        What the day is of, for the message.
    set_back : bool
        Whether the clock stands before the newest entry, so that `now` orders nothing.

    Raises
    ------
    LedgerError
        If it is no day, or lies in the future.
    """
    recorded_utc = now.astimezone(UTC).isoformat(timespec="seconds")
    this_minute = now.replace(second=0, microsecond=0)
    if given is None or (isinstance(given, str) and not given.strip()):
        at = None if set_back else this_minute
        return When(now.date(), at, recorded_utc, doubtful=set_back)
    day = given if isinstance(given, date) else _from_text(given, now, what)
    if not isinstance(day, datetime):
        _refuse_future(day, day > now.date(), this_minute, what)
        return When(day, None, recorded_utc)
    at = day.astimezone().replace(second=0, microsecond=0)
    _refuse_future(f"{at:%Y-%m-%d %H:%M}", at > this_minute, this_minute, what)
    return When(at.date(), at, recorded_utc)


def _refuse_future(told: object, is_so: bool, now: datetime, what: Message) -> None:
    if is_so:
        raise LedgerError(
            msg(
                "{what} {told} lies in the future (today is {date}, {now}); check the date, "
                "and this computer's clock",
                what=what,
                told=str(told),
                date=str(now.date()),
                now=str(now.strftime("%H:%M")),
            )
        )


def _from_text(text: str, now: datetime, what: Message) -> date:
    """Return a `date`, or a `datetime` where an hour was written."""
    today = now.date()
    words = {"today": today, "yesterday": today - timedelta(days=1)}
    day_text, _, hour = _HOUR_FOLLOWS.sub(" ", text.strip().lower()).partition(" ")
    try:
        day = words.get(day_text) or date.fromisoformat(day_text)
        return datetime.combine(day, time.fromisoformat(hour.strip())) if hour else day
    except ValueError:
        raise LedgerError(
            msg(
                "{what} {text} is not a date; write it like {today}, or {today} 11:30, or "
                "today or yesterday",
                what=what,
                text=repr(text),
                today=str(today),
            )
        ) from None


def not_before(when: When, earlier: When | None, what: Message, since: Message) -> None:
    """Refuse a time that lies before the event it follows.

    Raises
    ------
    LedgerError
        If `when` lies before `earlier`.
    """
    if earlier is not None and when.before(earlier):
        raise LedgerError(
            msg(
                "{what} {when} lies before {since} ({earlier}); check both dates",
                what=what,
                when=str(when),
                since=since,
                earlier=str(earlier),
            )
        )


def read_price(given: Decimal | str | float | None) -> Decimal | None:
    """Read a price in the bench's own currency: `49`, `49.90` or `49,90`; None if not told.

    Raises
    ------
    LedgerError
        If it is not a plain number with at most two decimals.
    """
    if given is None or given == "":
        return None
    text = str(given).strip()
    if _PRICE.fullmatch(text) is None:
        raise LedgerError(
            msg(
                "the price {text} is not a number; write it like 49.90, without currency and "
                "without thousands separators",
                text=repr(text),
            )
        )
    return Decimal(text.replace(",", ".")).quantize(Decimal("0.01"))
