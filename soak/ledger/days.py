"""Days and prices as people write them."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

from soak.errors import LedgerError

Today = Callable[[], date]
"""Says which day it is; tests and the simulated bench have their own."""

_PRICE = re.compile(r"\d{1,9}(?:[.,]\d{1,2})?")


def read_day(given: date | str | None, today: date, what: str = "the day") -> date:
    """Read a day: a date, `2026-03-14`, `today`, `yesterday`; None is today.

    Parameters
    ----------
    what : str
        What the day is of, for the message.

    Raises
    ------
    LedgerError
        If it is not a day, or lies in the future.
    """
    day = given if isinstance(given, date) else _from_text(given, today, what)
    if day > today:
        raise LedgerError(
            f"{what} {day} lies in the future (today is {today}); "
            "check the date, and this computer's clock"
        )
    return day


def _from_text(text: str | None, today: date, what: str) -> date:
    words = {None: today, "": today, "today": today, "yesterday": today - timedelta(days=1)}
    plain = text.strip().lower() if text is not None else None
    if plain in words:
        return words[plain]
    try:
        return date.fromisoformat(str(plain))
    except ValueError:
        raise LedgerError(
            f"{what} {text!r} is not a date; write it like {today}, or today or yesterday"
        ) from None


def not_before(day: date, earlier: date | None, what: str, since: str) -> None:
    """Refuse a day that lies before the event it follows.

    Raises
    ------
    LedgerError
        If `day` lies before `earlier`.
    """
    if earlier is not None and day < earlier:
        raise LedgerError(f"{what} {day} lies before {since} ({earlier}); check both dates")


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
            f"the price {text!r} is not a number; write it like 49.90, without currency "
            "and without thousands separators"
        )
    return Decimal(text.replace(",", ".")).quantize(Decimal("0.01"))
