"""The ledger's side of corrections: what was typed wrong, what is stated now, the clock."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import Connection

from soak.ledger import units
from soak.ledger.amending import corrections, restated
from soak.ledger.amending.corrections import Done
from soak.ledger.amending.restated import Restated
from soak.ledger.days import THE_DAY, Clock, When, local_now, read_when
from soak.ledger.store import Store
from soak.records import Header
from soak.words import NOTHING_SAID, Message, msg

Day = date | str | None
"""A day, or a day and an hour: `2026-03-14`, `2026-03-14 11:30`, `today`; None is now."""


_MINUTE = "%Y-%m-%d %H:%M"


class Correcting:
    """A ledger of which entries can be withdrawn and corrected; see `Ledger`."""

    def __init__(self, path: Path, *, wait_s: float = 10.0, now: Clock = local_now) -> None:
        self._store = Store(Path(path), wait_s)
        self._now = now

    def withdraw_entry(self, unit: str, entry: int, *, because: str, by: str) -> Done:
        """Withdraw an entry of a unit; it stays on the card, struck out.

        Raises
        ------
        LedgerError
            If it is no such entry, what came after hangs on it, or who or why is missing.
        """
        with self._store.writing() as connection:
            row = units.find(connection, unit)
            when = self._when(connection, None, THE_DAY)
            return corrections.withdraw(connection, row, entry, why=because, by=by, when=when)

    def correct_entry(
        self,
        unit: str,
        entry: int,
        new: Mapping[str, str],
        *,
        on: Day = None,
        because: str,
        by: str,
        anyway: bool = False,
    ) -> Done:
        """Correct an entry of a unit; `corrections.CAN_BE_CORRECTED` says what of it.

        Raises
        ------
        LedgerError
            If it is no such entry, what came after hangs on it, or who or why is missing.
        NeedsAnyway
            If a serial reads like that of another unit, unless `anyway`.
        """
        with self._store.writing() as connection:
            return corrections.correct(
                connection,
                units.find(connection, unit),
                entry,
                new,
                on=self._when(connection, on, THE_DAY) if on else None,
                why=because,
                by=by,
                when=self._when(connection, None, THE_DAY),
                anyway=anyway,
            )

    def restated(self, header: Header) -> Restated:
        """Return what a soak's header states of its unit, as the ledger has corrected it since."""
        with self._store.reading() as connection:
            return restated.restated(connection, header)

    def mistyped(self, text: str) -> Message:
        """Say that `text` is a serial once recorded by mistake; empty if it is not.

        Raises
        ------
        LedgerError
            If it means no unit, or several.
        """
        with self._store.reading() as connection:
            return units.mistyped(units.find(connection, text), text)

    def clock_set_back(self) -> Message:
        """Say that this computer's clock stands before the newest entry; empty if it does not."""
        with self._store.reading() as connection:
            last = units.last_recorded_utc(connection)
            now = self._now()
        if not _set_back(last, now):
            return NOTHING_SAID
        newest = datetime.fromisoformat(last).astimezone(now.tzinfo)
        return msg(
            "this computer's clock says {now}, and the ledger's newest entry is of "
            "{newest}; was it "
            "set back? Entries keep the order in which they were recorded, and take no hour from "
            "that clock",
            now=now.strftime(_MINUTE),
            newest=newest.strftime(_MINUTE),
        )

    def _when(self, connection: Connection, given: Day, what: Message) -> When:
        now = self._now()
        return read_when(
            given, now, what, set_back=_set_back(units.last_recorded_utc(connection), now)
        )

    def _recorded_utc(self) -> str:
        return self._now().astimezone(UTC).isoformat(timespec="seconds")


def _set_back(last_utc: str, now: datetime) -> bool:
    """Tell whether `now` lies before the latest time that an entry was recorded at."""
    return bool(last_utc) and now.replace(microsecond=0) < datetime.fromisoformat(last_utc)
