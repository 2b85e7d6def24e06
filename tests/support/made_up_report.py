"""A night of an invented unit held in memory, its findings, and the sheet made from them."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from headers import header_of, header_with

from soak.derive.course import course_of
from soak.errors import JournalError
from soak.frozen.references import EarlierSoak
from soak.judge.functions import functions_of
from soak.quantities import Quantity
from soak.records import FORMAT, Header, KeptFile, Mark, Seal, Session, State
from soak.report.contents.context import Challenge, ReportContext
from soak.report.contents.sheet import Sheet, gather
from soak.rules.core.verdict import Exercised, Finding, Judgement, OpenPoint, Pointer, Verdict
from soak.rules.limits import AT_MOST
from soak.rules.link import LINK_STAYED, LinkTerms
from soak.rules.picture import NO_DROPOUT
from soak.rules.starts import STARTS
from soak.rules.transfer import SPEED_KEPT, SpeedTerms
from soak.terms import LossTerms, SpotTerms, StartTerms
from soak.words import NOTHING_SAID, just

HOUR = 3600.0
SHEET = {
    "model": "Ferrow SP-40",
    "kind": "digital-signage player",
    "year_made": 2019,
    "picture_when_on": "moving",
    "start_s": 18.0,
    "mains": False,
    "disk": False,
    "lithium_cell": False,
    "holds_data": True,
    "functions": {
        "video": {"text": "shows its picture", "key": True, "check": "picture", "port": "hdmi"},
        "starts": {"text": "starts from cold and warm", "key": True, "check": "power_cycles"},
        "service": {"text": "reads its service port", "key": False, "check": "transfer"},
        "sound": {"text": "plays sound", "key": True, "check": "", "port": ""},
    },
    "ports": {"hdmi": {"text": "video output", "kind": "video"}},
    "spots": {"outside": {"text": "outside, warmest spot", "limit_degc": 70.0}},
}
FIXTURE: dict[str, Any] = {
    "name": "bench 1",
    "file": "/home/bench/fixtures/one.toml",
    "simulated": "",
    "switch": {
        "driver": "serial_text",
        "channel": "1",
        "port": "/dev/ttyUSB3",
        "identity": {"answers": "relay board 4"},
    },
    "capture": {"driver": "opencv", "port": "hdmi", "identity": {"card": "USB capture 7"}},
    "stick": {"driver": "folder", "path": "through", "port": "service", "identity": {}},
    "probe": {
        "case": {"driver": "serial_lines", "spot": "outside", "unit": "degC", "accuracy": 0.5},
        "room": {"driver": "by_hand", "spot": "ambient", "unit": "degC"},
    },
}
SCRIPT = {
    "name": "overnight",
    "about": "Starts, then four hours on, then a quiet tail.",
    "confidence": 0.95,
    "stretches": [
        {"name": "starts", "lasts_s": 6000.0, "attended": False, "checks": {}},
        {"name": "run", "lasts_s": 18000.0, "attended": False, "checks": {}},
    ],
}
JPEG = b"\xff\xd8\xff\xe0" + b"\x00" * 40 + b"\xff\xd9"


@dataclass
class Night:
    """Evidence held in lists; the read side of a journal."""

    header: Header
    ends_s: float
    readings: dict[str, tuple[np.ndarray, np.ndarray]]
    said: list[State]
    marked: list[Mark]
    begun: list[Session]
    seal: Seal | None
    files: list[tuple[KeptFile, bytes]] = field(default_factory=list)
    file_sha256: str = "ab" * 32

    def series(self, quantity: str, stretch: str = "") -> tuple[np.ndarray, np.ndarray]:
        t_s, value = self.readings.get(quantity, (np.empty(0), np.empty(0)))
        keep = np.zeros(len(t_s), dtype=bool)
        for begin_s, end_s in self.windows(stretch) if stretch else [(-1e99, 1e99)]:
            keep |= (t_s >= begin_s) & (t_s <= end_s)
        return t_s[keep], value[keep]

    def states(self, source: str) -> list[State]:
        return [one for one in self.said if one.source == source]

    def marks(self, what: str = "") -> list[Mark]:
        return sorted((m for m in self.marked if what in ("", m.what)), key=lambda m: m.t_s)

    def sessions(self) -> list[Session]:
        return self.begun

    def kept_files(self) -> list[KeptFile]:
        return [kept for kept, _ in self.files]

    def kept_bytes(self, kept: KeptFile) -> bytes:
        data = next(data for one, data in self.files if one.name == kept.name)
        if not data:
            raise JournalError(f"{kept.name}: the file is missing")
        return data

    def windows(self, stretch: str) -> list[tuple[float, float]]:
        begins = [m.t_s for m in self.marks("stretch begins") if m.stretch == stretch]
        ends = [m.t_s for m in self.marks("stretch ends") if m.stretch == stretch]
        return list(zip(begins, ends, strict=True))


BAD = ("black", "no signal", "frozen")
REQUIREMENTS = (
    STARTS.demand(
        StartTerms(start_limit_s=46.0),
        id="starts/power_cycles/failed starts",
        check="power_cycles",
        stretch="starts",
        limit=0.0,
        confidence=0.95,
        shows_repair=frozenset({"starts"}),
    ),
    NO_DROPOUT.demand(
        LossTerms(bad=BAD, at_least_s=0.2),
        id="run/picture/no dropout",
        check="picture",
        stretch="run",
        quantity="capture",
        limit=0.0,
        confidence=0.95,
        shows_repair=frozenset({"video"}),
    ),
    AT_MOST.demand(
        SpotTerms(spot="outside, warmest spot"),
        id="run/spots/case",
        check="spots",
        stretch="run",
        quantity="probe.case",
        limit=70.0,
        unit="degC",
        guarded=True,
    ),
    SPEED_KEPT.demand(
        SpeedTerms(port="service", path="through", over="service port"),
        id="run/transfer/speed",
        check="transfer",
        stretch="run",
        quantity="transfer.stick.speed",
        limit=0.6,
        shows_repair=frozenset({"service"}),
    ),
    LINK_STAYED.demand(
        LinkTerms(),
        id="run/link/port",
        check="link",
        stretch="run",
        quantity="link",
        limit=0.0,
    ),
)


def night(simulated: bool = False, **changed: Any) -> Night:
    """Return eight hours: 60 warm starts, 3 cold ones, one break of 0.35 s, ten minutes blind."""
    draw = np.random.default_rng(11)
    t_s = np.arange(0.0, 8 * HOUR, 5.0)
    warm = 24 + 30 * (1 - np.exp(-t_s / 2600)) + draw.normal(0, 0.2, t_s.size)
    room = 21 + np.sin(t_s / 9000) + draw.normal(0, 0.1, t_s.size)
    marked, said = _starts(draw)
    later = [
        State(14400.0, "capture", "black", 0.02),
        State(14400.35, "capture", "picture"),
        State(18000.0, "capture", "blind", 1.0, {"why": "/dev/video2 vanished on host bench-pc"}),
        State(18600.0, "capture", "picture"),
    ]
    said += [*later, State(0.0, "stick", "seen"), State(0.0, "switch", "seen")]
    marked += [
        Mark(18000.0, "bench fault", "run", "", {"instrument": "capture", "what": "vanished"}),
        Mark(18600.0, "bench well", "run", "", {"instrument": "capture"}),
        Mark(5.0, "question", "starts", "look", {"id": "closed", "text": "Closed and screwed?"}),
        Mark(9.0, "answer", "starts", "look", {"id": "closed", "answer": "yes", "by": "Ada"}),
        Mark(20000.0, "note", "run", "", {"text": "moved the desk lamp", "by": "Ada"}),
        Mark(0.0, "stretch begins", "starts"),
        Mark(8000.0, "stretch ends", "starts", "", {"because": "done", "observed_s": 8000.0}),
        Mark(8000.0, "stretch begins", "run"),
        Mark(28790.0, "stretch ends", "run", "", {"because": "done", "observed_s": 20190.0}),
        Mark(28795.0, "power", "run", "", {"on": False, "channel": "1", "why": "end"}),
    ]
    header = header_of(
        format=FORMAT,
        soak_id="20260301-ky7-overnight",
        job_id="job-0042",
        unit={
            "serial": "SP40-118204",
            "tag": "KY-7",
            "model": "Ferrow SP-40",
            "repairs": [
                {
                    "id": "r1",
                    "what": "video socket resoldered",
                    "function": "video",
                    "kind": "dropped by the buyer",
                    "on": "2026-02-27",
                },
                {
                    "id": "r2",
                    "what": "service socket renewed",
                    "function": "service",
                    "kind": "",
                    "on": "2026-02-27",
                },
            ],
            "wiped": None,
            "came_back": [],
        },
        model_sheet=SHEET,
        script=SCRIPT,
        fixture=FIXTURE,
        quantities=(
            Quantity("probe.case", "degC", "probe.case", 0.1, 0.5),
            Quantity("probe.room", "degC", "probe.room", 0.1, 0.5),
            Quantity("transfer.stick.speed", "B/s", "stick"),
            Quantity("transfer.stick.written", "B", "stick"),
        ),
        requirements=REQUIREMENTS,
        references={},
        seed=11,
        simulated=simulated,
    )
    header = header_with(header, **changed)
    speed = 28e6 + draw.normal(0, 8e5, 600)
    at_s = np.linspace(8100, 28000, 600)
    return Night(
        header,
        8 * HOUR,
        {
            "probe.case": (t_s, warm),
            "probe.room": (t_s, room),
            "transfer.stick.speed": (at_s, speed),
            "transfer.stick.written": (at_s, np.full(600, 4e6)),
        },
        sorted(said, key=lambda one: one.t_s),
        marked,
        [Session(1, "soak 1", "boot", "2026-03-01T20:00:00Z", 0.0, 0.0, "first start")],
        Seal(8 * HOUR, "complete"),
        [
            (_frame(60.0, "first.jpg", "first", "picture"), JPEG),
            (_frame(14400.2, "a.jpg", "during", "black"), JPEG),
        ],
    )


def _frame(t_s: float, name: str, shows: str, state: str) -> KeptFile:
    detail = {"shows": shows, "state": state}
    return KeptFile(t_s, name, "image/jpeg", "11" * 32, "capture", detail)


def _starts(draw: np.random.Generator) -> tuple[list[Mark], list[State]]:
    """Return 60 warm starts of 90 s and 3 cold ones of 800 s; then the power stays on."""
    marked, said = [], [State(0.0, "capture", "no signal")]
    t_s = 0.0
    for number in range(63):
        cold = number >= 60
        kind, off_s, on_s = ("cold", 700.0, 100.0) if cold else ("warm", 30.0, 60.0)
        on_at, took_s = t_s + off_s, float((24 if cold else 18) + draw.normal(0, 0.5))
        last = number == 62
        marked += [
            Mark(on_at, "power", "starts", "power_cycles", {"on": True, "channel": "1"}),
            Mark(on_at, "start", "starts", "power_cycles", {"kind": kind, "number": number + 1}),
            Mark(
                on_at + took_s,
                "start ended",
                "starts",
                "power_cycles",
                {"kind": kind, "number": number + 1, "seen": True, "took_s": took_s},
            ),
        ]
        said.append(State(on_at + took_s, "capture", "picture", 0.1))
        if not last:
            off = Mark(
                on_at + on_s, "power", "starts", "power_cycles", {"on": False, "channel": "1"}
            )
            marked.append(off)
            said.append(State(on_at + on_s, "capture", "no signal", 0.1))
        t_s = on_at + on_s
    return marked, said


def findings() -> tuple[Finding, ...]:
    """Return one finding of each verdict as a judgement would say it."""
    starts, picture, case, speed, link = REQUIREMENTS
    seen = Pointer("20260301-ky7-overnight", 14400.0, 14400.35, just("picture black"))
    return (
        # 1 - 0.05^(1/63) = 4.644 %: success-run theorem, 1 - C = R^n.
        Finding(
            starts,
            Verdict.MET,
            0.0,
            0.0,
            0.04644,
            0.0,
            just("Clopper and Pearson 1934"),
            just("63 of 63 starts worked."),
            over=63.0,
            detail={"starts": 63, "failed": 0},
        ),
        Finding(
            picture,
            Verdict.NOT_MET,
            1.0,
            0.005,
            1.0,
            -1.0,
            just("chi-square"),
            just("1 dropout in 5 h 26 min with power on."),
            over=5.4333 * 3600,
            pointers=(seen,),
            detail={"count": 1, "hours": 5.4333},
        ),
        Finding(
            case, Verdict.MET, 54.8, 54.3, 55.3, 15.2, just("guarded"), just("Highest 54.8 °C.")
        ),
        Finding(
            speed,
            Verdict.NOT_SHOWN,
            0.97,
            None,
            None,
            0.37,
            just("median"),
            just("blind for 10 min because /dev/ttyACM0 vanished"),
        ),
        Finding(
            link,
            Verdict.NOT_TESTED,
            None,
            None,
            None,
            None,
            NOTHING_SAID,
            just("Not tested: no link is wired."),
            why=just("no link is wired"),
        ),
    )


def judged(**changed: Any) -> Judgement:
    """Return the judgement of that night: it failed."""
    plain = Judgement(
        ready=False,
        because="failed",
        reason=just("The picture broke once in 5 h 26 min."),
        aside=just("Early half 1, late half 0."),
        findings=findings(),
        points=(OpenPoint("repair", just("service socket renewed: not shown")),),
        rules="4",
        seals=("ab" * 32,),
        soaks=("20260301-ky7-overnight",),
    )
    made = replace(plain, **changed)
    functions = functions_in(night(), made.findings)
    return made if "functions" in changed else replace(made, functions=functions)


def functions_in(soak: "Night", found: Sequence[Finding]) -> Sequence[Exercised]:
    """Return what findings show of the functions of a night's model sheet."""
    course = course_of(soak)
    return functions_of(course, [course], found, ())


def context(**changed: Any) -> ReportContext:
    """Return what the bench adds, the date of issue fixed."""
    given: dict[str, Any] = {
        "bench": "Kittiwake Yard",
        "address": "4 Slip Lane, Harbour End; bench@kittiwake.example",
        "issued_utc": "2026-03-02T08:30:00Z",
        "version": "1.0",
        "authorised_by": "A. Fulmar",
        "received_on": "2026-02-20",
        "condition": "light scratches on the lid",
        "known_defects": ("The lid is scratched.",),
        "earlier_soaks": (
            EarlierSoak("20260228-ky7-quick", "quick", "not ready: failed", "2026-02-28"),
        ),
        "challenges": (Challenge("capture", "power off for 100 ms", 0.1, "2026-03-01"),),
    }
    return ReportContext(**{**given, **changed})


def sheet_of(simulated: bool = False, **changed: Any) -> Sheet:
    """Return the bench's sheet of that night."""
    return gather(judged(), [night(simulated)], context(**changed))


RAN = "typed-text-ran"
"""What a page is marked with if text that somebody typed runs in it."""
RUNS = (
    f"</style></title></svg>'\"><script>document.documentElement.dataset.seen='{RAN}'</script>"
    f"<img src=x onerror=\"document.documentElement.dataset.seen='{RAN}'\">"
    f"<svg onload=\"document.documentElement.dataset.seen='{RAN}'\">"
)
HOSTILE = [
    "</style><script>alert(1)</script><img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "{{ 7*7 }}{% raw %}",
    "javascript:alert(1)",
    "\u202egpj.exe\u2066\u200b",
    "\x00\x07\x1b[31m\r\n\t\x85",
    "\ud800 lone surrogate",
    "]]><!--",
    '#panic("ran") #sys.inputs $x$ *_`@preview',
    "=HYPERLINK(0)",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "🐦‍⬛ 鷗 قطرس " * 40,
    "A" * 10_000,
]


def poisoned(words: str) -> Sheet:
    """Return a sheet in which every free text is `words`."""
    header = night().header
    unit = {
        "serial": words, "tag": words, "model": words,
        "repairs": [{"id": "r", "what": words, "function": words, "kind": words, "on": words}],
        "wiped": {"how": words, "verified": words, "by": words, "on": words},
    }  # fmt: skip
    sheet = {
        **header.model_sheet.model_dump(mode="json"), "kind": words,
        "functions": {"f": {"text": words, "key": True, "check": ""}},
        "spots": {"outside": {"text": words}},
    }  # fmt: skip
    script = {"name": words, "about": words, "stretches": [{"name": "run", "lasts_s": 5.0}]}
    fixture = {
        **header.fixture.as_json(),
        "switch": {"driver": words, "identity": {words[:20] or "x": words}, "note": words},
    }
    earlier = [{"soak_id": words, "script": words, "grade": words, "on": words}]
    # A journal's header is canonical JSON (RFC 8785), so it cannot hold a lone surrogate.
    safe = words.encode("utf-8", "replace").decode()
    made = night(
        unit=unit, model_sheet=sheet, fixture=fixture, script={**script, "name": safe,
        "about": safe}, references={"earlier_soaks": earlier}, soak_id=words, job_id=words,
    )  # fmt: skip
    made.marked += [
        Mark(9000.0, "note", "run", "", {"text": words, "by": words}),
        Mark(9001.0, "question", "run", "", {"id": words, "text": words}),
        Mark(9002.0, "answer", "run", "", {"id": words, "answer": words, "by": words}),
        Mark(9003.0, "bench fault", "run", "", {"instrument": words, "what": words}),
    ]
    made.files.append(
        (KeptFile(9004.0, words, "image/png", words, words, {"shows": words, "state": words}),
         b"\x89PNG\r\n\x1a\n" + words.encode("utf-8", "replace"))
    )  # fmt: skip
    judgement = judged(
        reason=just(words), points=(OpenPoint("end", just(words)),), rules=words,
        functions=functions_in(made, findings()),
    )  # fmt: skip
    said = context(
        bench=words, address=words, authorised_by=words, condition=words, known_defects=(words,),
        deviations=(words,), customer=words,
    )  # fmt: skip
    return gather(judgement, [made], said)
