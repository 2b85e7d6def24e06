"""A bench folder with one unit and simulated fixtures for moving plugs."""

import shutil
from pathlib import Path

from soak.desk import units

ROOT = Path(__file__).parents[2]
SCENES = {
    "good": "good",
    "left": "video_opens_to_the_left_when_hot",
    "drops": "video_drops_when_hot",
}
SERVO = '[servo]\ndriver = "simulated"\nat_port = "video"\nforce_n = 5\n'


def make_bench(folder: Path) -> Path:
    """Make it, with the unit S1."""
    (folder / "fixtures" / "models").mkdir(parents=True)
    shutil.copy(ROOT / "fixtures" / "models" / "ferrow-sp-40.toml", folder / "fixtures" / "models")
    plain = (ROOT / "fixtures" / "simulated" / "good.toml").read_text()
    for name, scene in SCENES.items():
        text = plain.replace('simulated = "good"', f'simulated = "{scene}"')
        (folder / "fixtures" / f"{name}.toml").write_text(text)
    left = (folder / "fixtures" / "left.toml").read_text()
    (folder / "fixtures" / "servo.toml").write_text(left + SERVO)
    units.add(folder, "SN1", model="ferrow-sp-40", tag="S1")
    return folder
