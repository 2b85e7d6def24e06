"""Simulated nights and jobs for the corpus: what is soaked, by which script, in which order."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from keeping import kept
from workshop import Workshop

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.desk.hands import wiggle
from soak.desk.hands.intake import Intake, script_of
from soak.sim.instruments import simulated_drivers
from soak.sim.scene import read_scene, scene_names

THIN_S = 10.0
SUPPLY = '[switch]\ndriver = "simulated"\nsets_voltage = true\naccuracy_v = 0.05\n'
MORE = """\
[link]
driver = "simulated"
port = "usb1"
[load]
driver = "simulated"
at_port = "usb1"
current_a = 0.5
[probe.usb5v]
driver = "simulated"
unit = "V"
at_port = "usb1"
accuracy = 0.02
[button]
driver = "simulated"
[servo]
driver = "simulated"
at_port = "usb1"
"""
SHORT = {
    "name": "short night",
    "not_after": "4 h",
    "stretch": [
        {
            "name": "starts",
            "power_cycles": {
                "warm": 6,
                "cold": 1,
                "off_s": 20,
                "on_s": 60,
                "heat_cycles": 1,
                "heat_range_k": 5,
            },
            "picture": {},
            "spots": {"limits": False},
        },
        {
            "name": "hot run",
            "lasts": "45 min",
            "picture": {
                "failure_free_s": 1200,
                "tints": 0,
                "torn": 0,
                "sparkle_per_h": 1.0,
                "seen_before": 4,
                "seen_before_in_s": 3600,
            },
            "transfer": {"write_budget_bytes": "1 GB", "keep_speed": 0.6},
            "spots": {"steady": True, "or_predicted_k": 2.0, "like_reference_k": 8.0},
            "link": {"at_least_speed_mbps": 480.0},
        },
    ],
}


def full(text: str) -> str:
    """Return a fixture with every instrument, whose supply is set by soak."""
    return text.replace('[switch]\ndriver = "simulated"\n', SUPPLY) + MORE


def linked(text: str) -> str:
    """Return a fixture that watches the link as well."""
    return text + '[link]\ndriver = "simulated"\nport = "usb1"\n'


def without(*roles: str):
    """Return what takes instruments from a fixture."""

    def change(text: str) -> str:
        parts = text.split("\n\n")
        return "\n\n".join(p for p in parts if not any(p.startswith(f"[{r}") for r in roles)) + "\n"

    return change


def nights(
    script: str, seeds: Sequence[int], scenes: Sequence[str] = (), thin_s: float = THIN_S
) -> Iterator[tuple[str, Any]]:
    """Soak scenes, by default every one, by a script that is shipped."""
    for scene in scenes or scene_names():
        for seed in seeds:
            with Workshop() as there:
                there.unit("K1")
                change = full if script == "supply" else str
                there.soak("K1", scene, script, seed=seed, fixture=change)
                yield f"{scene}/{script}/{seed}", _job(there, "K1", thin_s)


def short_nights() -> Iterator[tuple[str, Any]]:
    """Soak every scene by a short night with all demands."""
    for scene in scene_names():
        with Workshop() as there:
            there.unit("K1", "service_usb")
            there.soak("K1", scene, SHORT, seed=6, fixture=linked)
            yield f"{scene}/short/6", _job(there, "K1")


def _job(there: Workshop, tag: str, thin_s: float = THIN_S) -> tuple[list[list[str]], Any]:
    return [kept(one, thin_s) for one in there.job(tag)], None


def _all(there: Workshop, tag: str, name: str) -> Iterator[tuple[str, Any]]:
    for job_id, soaks in there.all_of(tag).items():
        yield f"{name}/{job_id}", ([kept(one, THIN_S) for one in soaks], None)


FAULTY = (
    ("video_drops_when_hot", "video"),
    ("service_port_loses_data", "service_usb"),
    ("fails_cold_starts", "start"),
    ("overheats", "cooling"),
    ("restarts_at_night", "start"),
    ("hangs", "video"),
)


def again() -> Iterator[tuple[str, Any]]:
    """Soak after a repair, once more without one, and after a repair that did not help."""
    for number, (scene, function) in enumerate(FAULTY):
        with Workshop() as there:
            there.unit("K1", function)
            there.soak("K1", scene, SHORT, seed=10 + number)
            there.repair("K1", function, 0)
            there.soak("K1", "good", SHORT, day=1, seed=10 + number)
            yield from _all(there, "K1", f"repaired/{scene}")
            there.unit("K2", function)
            there.soak("K2", scene, SHORT, seed=20 + number)
            there.soak("K2", "good", SHORT, day=1, seed=20 + number)
            yield from _all(there, "K2", f"once more/{scene}")
            there.unit("K3", function)
            there.soak("K3", scene, "evening", seed=30 + number)
            there.repair("K3", function, 0)
            there.soak("K3", scene, "evening", day=1, seed=40 + number)
            there.repair("K3", function, 0, part="of another maker")
            there.soak("K3", "good", "evening", day=2, seed=30 + number)
            yield from _all(there, "K3", f"not helped/{scene}")


def together() -> Iterator[tuple[str, Any]]:
    """Nights that add up, other scripts in one job, records that stand beside."""
    orders = {
        "three evenings": ("evening", "evening", "evening"),
        "quick and evening": ("quick", "evening"),
        "evening and quick": ("evening", "quick"),
        "supply beside evening": ("evening", "supply"),
        "evening beside supply": ("supply", "evening"),
        "supply twice": ("supply", "supply"),
    }
    for name, scripts in orders.items():
        for scene in ("good", "fails_at_low_supply", "dies_in_short_breaks"):
            with Workshop() as there:
                there.unit("K1", "start")
                for day, script in enumerate(scripts):
                    there.soak("K1", scene, script, day=day, seed=50 + day, fixture=full)
                yield f"{name}/{scene}", _job(there, "K1")
    for wiped, repaired in ((False, True), (True, False), (False, False)):
        with Workshop() as there:
            there.unit("K1", repaired=repaired, wiped=wiped)
            there.soak("K1", "good", "evening", seed=60)
            yield f"papers/wiped {wiped}, repaired {repaired}", _job(there, "K1")


def intakes() -> Iterator[tuple[str, Any]]:
    """Look for the fault before the repair; it must be gone after it."""
    sheet = Path(__file__).parents[2] / "fixtures" / "models" / "ferrow-sp-40.toml"
    for number, scene in enumerate(("video_drops_when_hot", "hangs", "good")):
        with Workshop() as there:
            there.unit("K1", repaired=False)
            file = there.bench.path / "looked-up.toml"
            text = f'name = "b"\nsimulated = "{scene}"\n'
            file.write_text(
                text + '[switch]\ndriver = "simulated"\n'
                '[capture]\ndriver = "simulated"\nport = "video"\n'
            )
            model = read_model_sheet(sheet)
            fixture = read_fixture(file, model, simulated_drivers(read_scene("good"), 0))
            what = Intake("goes dark", ["video"], 1.0)
            script = script_of(what, ["video"], fixture, model)
            there.soak("K1", scene, script, seed=70 + number, complaint=what.complaint)
            there.repair("K1", "video", 0)
            there.soak("K1", "good", "evening", day=1, seed=70 + number)
            there.soak("K1", "good", "evening", day=2, seed=80 + number)
            yield from _all(there, "K1", f"intake/{scene}")
    for scene in ("good", "video_drops_when_hot", "video_opens_to_the_left_when_hot"):
        for hot in (False, True):
            with Workshop() as there:
                there.unit("K1")
                what = wiggle.Wiggling("video", hot=hot, warm_up_s=1800.0)
                stretch = wiggle.stretch_of(what, ["capture"])
                script = {
                    "name": "wiggle",
                    "not_after": "9 h",
                    "beside": True,
                    "stretch": [stretch],
                }
                there.soak("K1", scene, "quick", seed=90)
                there.soak("K1", scene, script, day=1, seed=91)
                yield f"wiggle/{scene}/{'hot' if hot else 'cold'}", _job(there, "K1")


def references() -> Iterator[tuple[str, Any]]:
    """Known-good units to be like, and other units of the same repair in the header."""
    with Workshop() as there:
        for number in range(5):
            there.unit(f"G{number}")
            there.soak(
                f"G{number}", "good", SHORT, day=number, seed=100 + number, as_reference=True
            )
        for number, scene in enumerate(("good", "overheats", "fan_dies", "video_drops_when_hot")):
            there.unit(f"K{number}")
            there.soak(f"K{number}", scene, SHORT, day=9, seed=110 + number)
            yield from _all(there, f"K{number}", f"references/{scene}")
        yield from _all(there, "G0", "references/none yet")
        yield from _all(there, "G4", "references/four")


def wired() -> Iterator[tuple[str, Any]]:
    """Fixtures that lack instruments."""
    lacks = {
        "capture": ("capture",),
        "stick": ("stick",),
        "probes": ("probe",),
        "all but capture": ("stick", "probe", "switch"),
        "all but probes": ("stick", "capture"),
    }
    for name, roles in lacks.items():
        for scene in ("good", "video_drops_when_hot", "overheats"):
            with Workshop() as there:
                there.unit("K1")
                there.soak("K1", scene, SHORT, seed=120, fixture=without(*roles))
                yield f"lacks {name}/{scene}", _job(there, "K1")
    for path in ("bench_only", "played", "carried", "stood_in"):
        with Workshop() as there:
            there.unit("K1", "service_usb")
            change = _path(path)
            there.soak("K1", "service_port_loses_data", "evening", seed=130, fixture=change)
            yield f"data is {path}", _job(there, "K1")


def _path(path: str):
    return lambda text: text.replace('"through"', f'"{path}"')


def cut() -> Iterator[tuple[str, Any]]:
    """Let the program die and go on, once or twice, or never; or stop it."""
    for scene in ("good", "video_drops_when_hot", "restarts_at_night"):
        for at_s, gap_s in ((200.0, 5.0), (1500.0, 600.0), (3200.0, 7200.0)):
            with Workshop() as there:
                there.unit("K1")
                folder = there.soak("K1", scene, SHORT, seed=140, dies_at_s=at_s)
                yield f"cut off/{scene}/{at_s:g}", _job(there, "K1")
                there.resume(folder, gap_s)
                yield f"resumed/{scene}/{at_s:g}", _job(there, "K1")
        with Workshop() as there:
            there.unit("K1")
            folder = there.soak("K1", scene, SHORT, seed=141, dies_at_s=900.0)
            there.resume(folder, 60.0, dies_at_s=2500.0)
            there.resume(folder, 600.0)
            yield f"resumed/{scene}/twice", _job(there, "K1")
            there.unit("K2")
            there.soak("K2", scene, SHORT, seed=142, stops_at_s=3000.0)
            yield f"stopped/{scene}", _job(there, "K2")
            there.soak("K2", "good", SHORT, day=1, seed=143)
            yield f"stopped, then whole/{scene}", _job(there, "K2")
