"""The ledger's tables.

Every event of a unit is one row of `entries`, which gives the strict order in which things were
recorded; its particulars stand in the table of its kind under the same number. So "everything
in order of time" is one query, and what came after what never hangs on a wall clock.
"""

from collections.abc import Callable, Sequence

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    UniqueConstraint,
)

METADATA = MetaData()

STATES = ("on the bench", "sold", "came back")
"""Where a unit is."""

REPAIR_KINDS = ("rework", "repair", "part replaced", "donor part")
"""Rework restores to the drawing; a repair restores the function without it."""

HAZARDS = ("", "smoke", "shock", "burn")
"""What may have hurt somebody; empty if nothing did."""


def _among(column: str, words: Sequence[str]) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} in ({listed})")


def _entry() -> Column[int]:
    return Column("entry", ForeignKey("entries.number"), primary_key=True)


VERSIONS = Table(
    "ledger_version",
    METADATA,
    Column("version", Integer, primary_key=True),
    Column("since_utc", String, nullable=False),
    Column("program", String, nullable=False),
)

UNITS = Table(
    "units",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("tag", String(collation="NOCASE"), nullable=False, unique=True),
    Column("serial", String, nullable=False),
    Column("model", String, nullable=False),
    Column("bought", String),
    Column("state", String, _among("state", STATES), nullable=False),
)

ENTRIES = Table(
    "entries",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("unit_id", ForeignKey("units.id"), nullable=False, index=True),
    Column("kind", String, nullable=False),
    Column("day", String, nullable=False),
    Column("by", String, nullable=False),
    Column("recorded_utc", String, nullable=False),
    sqlite_autoincrement=True,
)

JOBS = Table(
    "jobs",
    METADATA,
    _entry(),
    Column("job_id", String, nullable=False, unique=True),
    Column("unit_id", ForeignKey("units.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("why", String, nullable=False),
    UniqueConstraint("unit_id", "number"),
)

REPAIRS = Table(
    "repairs",
    METADATA,
    _entry(),
    Column("id", String, nullable=False),
    Column("job_id", ForeignKey("jobs.job_id"), nullable=False),
    Column("what", String, nullable=False),
    Column("function", String, nullable=False),
    Column("kind", String, _among("kind", REPAIR_KINDS), nullable=False),
    Column("part", String, nullable=False),
    Column("batch", String, nullable=False),
)

SOAKS = Table(
    "soaks",
    METADATA,
    _entry(),
    Column("soak_id", String, nullable=False, unique=True),
    Column("job_id", ForeignKey("jobs.job_id"), nullable=False),
    Column("script", String, nullable=False),
    Column("began_utc", String, nullable=False),
    Column("ended", String, nullable=False),
    Column("seal", String, nullable=False),
    Column("simulated", Boolean, nullable=False),
    Column("starts", Integer, nullable=False),
    Column("powered_s", Float, nullable=False),
    Column("written_bytes", Integer, nullable=False),
    Column("not_tested", JSON, nullable=False),
    Column("not_shown", JSON, nullable=False),
)

GRADES = Table(
    "grades",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("soak_id", ForeignKey("soaks.soak_id"), nullable=False, index=True),
    Column("grade", String, nullable=False),
    Column("reason", String, nullable=False),
    Column("rules", String, nullable=False),
    Column("judged", JSON, nullable=False),
    Column("recorded_utc", String, nullable=False),
)

SALES = Table(
    "sales",
    METADATA,
    _entry(),
    Column("job_id", ForeignKey("jobs.job_id"), nullable=False),
    Column("where", String, nullable=False),
    Column("price", String),
    Column("report", String, nullable=False),
    Column("although", String, nullable=False),
)

CAME_BACK = Table(
    "came_back",
    METADATA,
    _entry(),
    Column("sale", ForeignKey("sales.entry"), nullable=False, unique=True),
    Column("complaint", String, nullable=False),
    Column("answers", JSON, nullable=False),
    Column("hazard", String, _among("hazard", HAZARDS), nullable=False),
)

SETTLED = Table(
    "settled",
    METADATA,
    _entry(),
    Column("came_back", ForeignKey("came_back.entry"), nullable=False, unique=True),
    Column("found", String, nullable=False),
)

WIPED = Table(
    "wiped",
    METADATA,
    _entry(),
    Column("how", String, nullable=False),
    Column("verified", String, nullable=False),
)

BENCH_WEAR = Table(
    "bench_wear",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("soak_id", ForeignKey("soaks.soak_id"), nullable=False, index=True),
    Column("part", String, nullable=False, index=True),
    Column("kind", String, nullable=False),
    Column("fixture", String, nullable=False),
    Column("plugged", Integer, nullable=False),
    Column("written_bytes", Integer, nullable=False),
    Column("size_bytes", Integer, nullable=False),
)

PHOTOGRAPHS = Table(
    "photographs",
    METADATA,
    _entry(),
    Column("what", String, nullable=False),
    Column("file", String, nullable=False),
    Column("sha256", String, nullable=False),
    Column("seal", String, nullable=False),
)

WITHDRAWN = Table(
    "withdrawn_demands",
    METADATA,
    _entry(),
    Column("soak_id", ForeignKey("soaks.soak_id"), nullable=False, index=True),
    Column("demand", String, nullable=False),
    Column("because", String, nullable=False),
    UniqueConstraint("soak_id", "demand"),
)

Step = Callable[[Connection], None]


def _keep_the_benchs_wear(connection: Connection) -> None:
    """Version 2: what soaks cost the bench's own cables and sticks."""
    connection.exec_driver_sql(
        "CREATE TABLE bench_wear (id INTEGER PRIMARY KEY, "
        "soak_id VARCHAR NOT NULL REFERENCES soaks (soak_id), part VARCHAR NOT NULL, "
        "kind VARCHAR NOT NULL, fixture VARCHAR NOT NULL, plugged INTEGER NOT NULL, "
        "written_bytes INTEGER NOT NULL, size_bytes INTEGER NOT NULL)"
    )
    connection.exec_driver_sql("CREATE INDEX ix_bench_wear_part ON bench_wear (part)")
    connection.exec_driver_sql("CREATE INDEX ix_bench_wear_soak_id ON bench_wear (soak_id)")


def _keep_photographs(connection: Connection) -> None:
    """Version 3: photographs of units, tied to the seal of the soak before them."""
    connection.exec_driver_sql(
        "CREATE TABLE photographs (entry INTEGER NOT NULL PRIMARY KEY REFERENCES entries (number), "
        "what VARCHAR NOT NULL, file VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, "
        "seal VARCHAR NOT NULL)"
    )


def _withdraw_demands(connection: Connection) -> None:
    """Version 4: demands of a soak that were wrong and were withdrawn."""
    connection.exec_driver_sql(
        "CREATE TABLE withdrawn_demands (entry INTEGER NOT NULL PRIMARY KEY "
        "REFERENCES entries (number), soak_id VARCHAR NOT NULL REFERENCES soaks (soak_id), "
        "demand VARCHAR NOT NULL, because VARCHAR NOT NULL, UNIQUE (soak_id, demand))"
    )
    connection.exec_driver_sql(
        "CREATE INDEX ix_withdrawn_demands_soak_id ON withdrawn_demands (soak_id)"
    )


STEPS: Sequence[Step] = (_keep_the_benchs_wear, _keep_photographs, _withdraw_demands)
"""What turns a file of version n into one of version n + 1: `STEPS[n - 1]`.

A new file gets the tables above and the newest version at once; a step spells out its own
`ALTER TABLE` and never uses the tables above, which move on.
"""
