"""The demo: an invented workshop soaks simulated units overnight, in about a minute.

"Kittiwake Yard" refurbishes "Ferrow SP-40" digital-signage players; both are invented. What is
really wrong comes from the scene, the grade from the judgement; the table sets them side by side.
"""

import shutil
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib import resources
from multiprocessing import get_context
from pathlib import Path

import trio
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from soak.clock import LeapingClock, settle_order
from soak.desk.bench_folder import BenchFolder
from soak.desk.demo.table import Row, row_of, table
from soak.desk.orders import Order, Prepared, prepare
from soak.desk.paper.details import details_file
from soak.desk.paper.jpeg import to_jpeg
from soak.desk.paper.reporting import write_reports
from soak.desk.proof.prove import prove_fixture
from soak.desk.soaking.carrying_out import Running, soak_all
from soak.desk.soaking.grading import Graded, grade_job
from soak.desk.trust.keys import make_key
from soak.ledger.ledger import Ledger
from soak.live.prompt import as_wanted
from soak.report.output.files import Outputs, ReportFiles
from soak.report.signing.sign import BenchKey
from soak.run.script import find_script, read_script
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text
from soak.sim.scene import read_scene
from soak.words import NOTHING_SAID, Message, Output, Tell, joined, msg

WORKSHOP = resources.files("soak.sim") / "workshop"
MODEL = "ferrow-sp-40"
PUBLISHED_KEY = BenchKey(
    Ed25519PrivateKey.from_private_bytes(
        bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
    )
)
"""The invented workshop's key, the same each time, so that the samples are: it stands in RFC 8032
(section 7.1, test 1), so everybody has it and a signature by it proves nothing."""
EVENING = datetime(2026, 1, 5, 20, 0, tzinfo=UTC)
"""The simulated evening; fixed, so that the same seed gives the same pages."""


@dataclass(frozen=True, slots=True)
class Player:
    """One unit of the demo.

    Attributes
    ----------
    scene : str
        What is really wrong with it.
    repair, function : str
        What was mended, and the function that gave back.
    sold_before : bool
        Whether it was sold once and came back.
    """

    tag: str
    serial: str
    scene: str
    repair: str
    function: str
    sold_before: bool = False


PLAYERS = (
    Player("K1", "SP40-1017", "good", repair="video port re-soldered", function="video"),
    Player(
        "K2", "SP40-1023", "video_drops_when_hot", repair="video port re-soldered", function="video"
    ),
    Player(
        "K3",
        "SP40-1031",
        "service_port_loses_data",
        repair="service port replaced",
        function="service_usb",
    ),
    Player(
        "K4",
        "SP40-1044",
        "fails_cold_starts",
        repair="capacitors on the 5 V rail renewed",
        function="start",
    ),
    Player("K5", "SP40-1052", "overheats", repair="thermal compound renewed", function="cooling"),
    Player("K6", "SP40-1068", "restarts_at_night", repair="power inlet replaced", function="start"),
    Player(
        "K7",
        "SP40-1075",
        "good_adapter_vanishes",
        repair="video port re-soldered",
        function="video",
    ),
    Player(
        "K8",
        "SP40-0998",
        "came_back",
        repair="service port replaced",
        function="service_usb",
        sold_before=True,
    ),
)
SAMPLES = {"K1": "ready", "K2": "failed", "K7": "incomplete"}
"""Whose reports are kept as samples."""
NOT_KEPT = frozenset({"listing-portrait.png", "listing-square.png", "record.png"})
"""Files of a sample that another one shows as well."""


@dataclass(frozen=True, slots=True)
class Night:
    """A night of the demo, ready to be soaked.

    Attributes
    ----------
    told : sequence of Output
        What the ledger has to say of units it saw before.
    overnight : sequence of Prepared
        One soak a player, in the players' order.
    """

    bench: BenchFolder
    ledger: Ledger
    told: Sequence[Output]
    overnight: Sequence[Prepared]


def demo(seed: int, say: Tell, folder: Path = Path("reports")) -> Sequence[Row]:
    """Soak all players overnight; write `demo` and `sample` into `folder`; return the table."""
    say(msg("Kittiwake Yard, an invented workshop, soaks eight simulated Ferrow SP-40 overnight."))
    say(
        msg(
            "Everything here is SIMULATED; time leaps, the rest is the program that soaks "
            "real units."
        )
    )
    night = prepare_night(seed, folder / "demo")
    bench = night.bench
    ledger = night.ledger
    for line in night.told:
        say(line)
    with ProcessPoolExecutor(max_workers=2, mp_context=get_context("spawn")) as pool:
        list(pool.map(soak_simulated, night.overnight))
    rows = []
    for player, prepared in zip(PLAYERS, night.overnight, strict=True):
        graded = grade_job(bench, ledger, prepared.folder)
        rows.append(row_of(player.tag, read_scene(player.scene), graded))
        sample = SAMPLES.get(player.tag)
        if sample:
            _write_details(bench, graded)
        how = Outputs(everything=bool(sample), record=bool(sample), to_jpeg=to_jpeg)
        files = write_reports(bench, ledger, graded, prepared.folder, issued=_morning(), how=how)
        if sample:
            _keep_sample(files, folder / "sample" / sample)
    say(NOTHING_SAID)
    say(table(rows))
    say(NOTHING_SAID)
    say(
        msg(
            "Reports: {reports}/*/report.html; samples: {folder}",
            reports=str(bench.reports),
            folder=str(folder / "sample"),
        )
    )
    say(
        msg(
            "Go on there: soak --bench {path} unit list; soak --bench {path} show K2",
            path=str(bench.path),
        )
    )
    return rows


def prepare_night(seed: int, folder: Path, players: Sequence[Player] = PLAYERS) -> Night:
    """Make the demo's bench anew in `folder` and prepare its night; soak nothing of that yet."""
    bench = _fresh_bench(folder)
    ledger = Ledger(bench.ledger, now=lambda: EVENING)
    lines = [line for player in players for line in _history(bench, ledger, player, seed)]
    overnight = [
        _prepare(
            bench,
            ledger,
            player,
            seed=seed,
            script="overnight",
            when=EVENING,
            fixture=_fixture(bench, player),
        )
        for player in players
    ]
    return Night(bench, ledger, lines, overnight)


def soak_simulated(one: Prepared) -> str:
    """Run one prepared simulated soak to its seal; return how it ended. For a worker process."""
    running = Running()
    clock = LeapingClock(starts_utc=EVENING)

    async def main() -> None:
        await soak_all(
            [one], clock, as_wanted(lambda _: None), running=running, watches=lambda *_: []
        )

    settle_order(one.wanted.seed)
    trio.run(main, clock=clock)
    return running.ended[one.wanted.soak_id].how


def _history(bench: BenchFolder, ledger: Ledger, player: Player, seed: int) -> list[Message]:
    """Enter a player into the ledger, with its past; return what the ledger has to say of it."""
    bought = EVENING - timedelta(days=40)
    if not player.sold_before:
        ledger.add_unit(model=MODEL, tag=player.tag, serial=player.serial, bought=bought.date())
        _mend(ledger, player, 2)
        return []
    ledger.add_unit(model=MODEL, tag=player.tag, serial=player.serial, bought=bought.date())
    _mend(ledger, player, 35)
    first = _prepare(
        bench,
        ledger,
        player,
        seed=seed,
        script="evening",
        when=EVENING - timedelta(days=34),
        fixture=_no_stick(bench),
    )
    soak_simulated(first)
    graded = grade_job(bench, ledger, first.folder)
    write_reports(bench, ledger, graded, first.folder, issued=EVENING - timedelta(days=34))
    sold_on = (EVENING - timedelta(days=30)).date()
    ledger.sold(player.tag, where="own shop", on=sold_on, anyway=True)
    complaint = "new clips arrive broken once it has run for a while"
    ledger.back(player.tag, complaint=complaint, on=(EVENING - timedelta(days=3)).date())
    seen = ledger.seen_before(player.serial.replace("0", "O", 1).lower())
    _mend(ledger, player, 2)
    return [joined(": ", [player.tag, sighting.text]) for sighting in seen]


def _mend(ledger: Ledger, player: Player, days_ago: int) -> None:
    on = (EVENING - timedelta(days=days_ago)).date()
    ledger.record_repair(player.tag, what=player.repair, function=player.function, on=on, by="KY")
    ledger.wiped(
        player.tag, how="storage reset", verified="no clip left in its menu", by="KY", on=on
    )


def _prepare(
    bench: BenchFolder,
    ledger: Ledger,
    player: Player,
    seed: int,
    script: str,
    when: datetime,
    fixture: Path,
) -> Prepared:
    read = read_script(find_script(script, bench.path))
    return prepare(bench, ledger, read, order=Order(player.tag, fixture), when=when, seed=seed)


def _fresh_bench(path: Path) -> BenchFolder:
    """Make the demo's bench folder anew."""
    if path.exists():
        shutil.rmtree(path, onerror=_make_writable)
    models = path / "fixtures" / "models"
    models.mkdir(parents=True)
    (models / MODEL_SHEET_NAME).write_text(model_sheet_text())
    (path / "bench.toml").write_text((WORKSHOP / "bench.toml").read_text())
    make_key(path, PUBLISHED_KEY)
    return BenchFolder(path)


def _make_writable(remove: Callable[[str], object], name: str, _: object) -> None:
    Path(name).chmod(0o700)  # sealed journals are read-only
    remove(name)


def _fixture(bench: BenchFolder, player: Player) -> Path:
    """Write the fixture of one player; only the scene differs."""
    file = bench.path / "fixtures" / f"{player.tag.lower()}.toml"
    file.write_text(fixture_text(player.scene))
    prove_fixture(bench, file, MODEL, tell=lambda _: None, on=f"{EVENING:%Y-%m-%d}")
    return file


def _no_stick(bench: BenchFolder) -> Path:
    """Write the fixture on which the one that came back was soaked before its sale."""
    file = bench.path / "fixtures" / "no-stick.toml"
    text = fixture_text("good")
    before, _, rest = text.partition("[stick]")
    file.write_text(before + rest[rest.index("[probe.") :])
    return file


def _morning() -> datetime:
    return EVENING + timedelta(hours=12)


def _write_details(bench: BenchFolder, graded: Graded) -> None:
    """Write what only the workshop knows of a job; samples have it, the others leave it out."""
    file = details_file(bench, graded.soaks[-1].header.job_id)
    file.parent.mkdir(exist_ok=True)
    file.write_text((WORKSHOP / "details.toml").read_text())


def _keep_sample(files: ReportFiles, into: Path) -> None:
    """Keep what a buyer and a bench would look at; the picture once, as JPEG."""
    shutil.rmtree(into, ignore_errors=True)
    into.mkdir(parents=True)
    for file in (files.bench_page, files.buyer_page, files.data, *files.others.values()):
        if file.name not in NOT_KEPT:
            shutil.copyfile(file, into / file.name)
