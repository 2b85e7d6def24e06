"""Have we seen this serial before?"""

from collections.abc import Sequence

from sqlalchemy import Connection

from soak.ledger.amending.corrected import UnitRow
from soak.ledger.entries import Sale, Sighting, SoakLine
from soak.ledger.returning.likeness import ORDER, likeness
from soak.ledger.sales import last_sale, returns
from soak.ledger.soaks import soaks
from soak.ledger.units import as_unit, rows


def seen_before(connection: Connection, serial: str) -> Sequence[Sighting]:
    """Return the units whose serial is or reads like this one, the nearest first.

    `soak.ledger.returning.likeness` says when two serials are alike.
    """
    sightings = [
        sighting
        for row in rows(connection)
        if (sighting := _sighting(connection, row, serial)) is not None
    ]
    return sorted(
        sightings, key=lambda sighting: [how == sighting.how for how in ORDER], reverse=True
    )


def not_tested_when_sold(connection: Connection, unit: UnitRow) -> Sequence[str]:
    """Return what the last soak before the last sale had not tested.

    A soak that was judged tells it still, though its grade was taken back by a later correction.
    """
    soaked = soaks(connection, unit=unit)
    sale = last_sale(connection, unit)
    judged = [line for line in soaked if line.rules and (sale is None or _before(line, sale))]
    return judged[-1].not_tested if judged else ()


def _before(line: SoakLine, sale: Sale) -> bool:
    return line.job_id == sale.job_id


def _sighting(connection: Connection, row: UnitRow, serial: str) -> Sighting | None:
    alike = [how for known in (row.serial, *row.mistyped) if (how := likeness(serial, known))]
    how = min(alike, key=ORDER.index, default=None)
    if how is None:
        return None
    return Sighting(
        unit=as_unit(row),
        how=how,
        sold=last_sale(connection, row),
        came_back=returns(connection, row),
        not_tested=not_tested_when_sold(connection, row),
    )
