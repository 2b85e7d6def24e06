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
    Column("at", String),
    sqlite_autoincrement=True,
)
"""`day` is on the bench's calendar; `at` the minute, local time with its UTC offset, if known."""

JOBS = Table(
    "jobs",
    METADATA,
    _entry(),
    Column("job_id", String, nullable=False, unique=True),
    Column("unit_id", ForeignKey("units.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("why", String, nullable=False),
    Column("begun_by", ForeignKey("entries.number")),
    UniqueConstraint("unit_id", "number"),
)
"""`begun_by` is the come-back, or the repair after an intake, that the job began with."""

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
    Column("ended_utc", String),
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
    Column("said", JSON),
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
    Column("sale", ForeignKey("sales.entry"), nullable=False),
    Column("complaint", String, nullable=False),
    Column("answers", JSON, nullable=False),
    Column("hazard", String, _among("hazard", HAZARDS), nullable=False),
)

SETTLED = Table(
    "settled",
    METADATA,
    _entry(),
    Column("came_back", ForeignKey("came_back.entry"), nullable=False),
    Column("found", String, nullable=False),
    Column("done", String, nullable=False),
)

CORRECTIONS = Table(
    "corrections",
    METADATA,
    _entry(),
    Column("of", ForeignKey("entries.number"), nullable=False, index=True),
    Column("why", String, nullable=False),
    Column("new", JSON(none_as_null=True)),
)
"""What withdraws the entry `of`, or puts `new` values in place of some of its own; nothing else in
the ledger is changed by it, and `soak.ledger.amending.corrected` alone reads it."""

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


def _keep_corrections(connection: Connection) -> None:
    """Version 5: entries are withdrawn and corrected by others, and know their hour.

    A sale whose come-back was withdrawn may have another, a hazard another settlement, a demand
    another withdrawal: these tables are made anew without their UNIQUE, which SQLite cannot take
    off. Their rows come back under the same numbers before the transaction ends, so references to
    them hold.
    """
    run = connection.exec_driver_sql
    run(
        "CREATE TABLE corrections (entry INTEGER NOT NULL PRIMARY KEY REFERENCES entries (number), "
        "of INTEGER NOT NULL REFERENCES entries (number), why VARCHAR NOT NULL, new JSON)"
    )
    run("CREATE INDEX ix_corrections_of ON corrections (of)")
    run("ALTER TABLE entries ADD COLUMN at VARCHAR")
    run("ALTER TABLE soaks ADD COLUMN ended_utc VARCHAR")
    run("ALTER TABLE jobs ADD COLUMN begun_by INTEGER REFERENCES entries (number)")
    run(
        "UPDATE jobs SET begun_by = entry - 1 "
        "WHERE entry - 1 IN (SELECT entry FROM came_back)"  # one transaction wrote both
    )
    run(
        "UPDATE jobs SET begun_by = entry + 1 WHERE why = 'repaired after intake' "
        "AND entry + 1 IN (SELECT entry FROM repairs WHERE repairs.job_id = jobs.job_id)"
    )
    run("PRAGMA defer_foreign_keys = ON")
    run("CREATE TEMP TABLE old_backs AS SELECT * FROM came_back")
    run("CREATE TEMP TABLE old_settled AS SELECT * FROM settled")
    run("DROP TABLE settled")
    run("DROP TABLE came_back")
    run(
        "CREATE TABLE came_back (entry INTEGER NOT NULL PRIMARY KEY REFERENCES entries (number), "
        "sale INTEGER NOT NULL REFERENCES sales (entry), complaint VARCHAR NOT NULL, "
        "answers JSON NOT NULL, hazard VARCHAR NOT NULL "
        "CHECK (hazard in ('', 'smoke', 'shock', 'burn')))"
    )
    run(
        "CREATE TABLE settled (entry INTEGER NOT NULL PRIMARY KEY REFERENCES entries (number), "
        "came_back INTEGER NOT NULL REFERENCES came_back (entry), found VARCHAR NOT NULL, "
        "done VARCHAR NOT NULL)"
    )
    run(
        "INSERT INTO came_back (entry, sale, complaint, answers, hazard) "
        "SELECT entry, sale, complaint, answers, hazard FROM old_backs"
    )
    run(
        "INSERT INTO settled (entry, came_back, found, done) "
        "SELECT entry, came_back, found, '' FROM old_settled"
    )
    run("DROP TABLE old_backs")
    run("DROP TABLE old_settled")
    run(
        "CREATE TABLE demands_again (entry INTEGER NOT NULL PRIMARY KEY "
        "REFERENCES entries (number), soak_id VARCHAR NOT NULL REFERENCES soaks (soak_id), "
        "demand VARCHAR NOT NULL, because VARCHAR NOT NULL)"
    )
    run("INSERT INTO demands_again SELECT entry, soak_id, demand, because FROM withdrawn_demands")
    run("DROP TABLE withdrawn_demands")
    run("ALTER TABLE demands_again RENAME TO withdrawn_demands")
    run("CREATE INDEX ix_withdrawn_demands_soak_id ON withdrawn_demands (soak_id)")


def _say_reasons_again(connection: Connection) -> None:
    """Version 6: the reason of a grade is kept as its phrases, too, and said in any language."""
    connection.exec_driver_sql("ALTER TABLE grades ADD COLUMN said JSON")


STEPS: Sequence[Step] = (
    _keep_the_benchs_wear,
    _keep_photographs,
    _withdraw_demands,
    _keep_corrections,
    _say_reasons_again,
)
"""What turns a file of version n into one of version n + 1: `STEPS[n - 1]`.

A new file gets the tables above and the newest version at once; a step spells out its own
`ALTER TABLE` and never uses the tables above, which move on.
"""
