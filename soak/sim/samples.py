"""What a simulated bench needs besides a scene: a model sheet and a fixture, as texts of files."""

from importlib import resources

from soak.sim.scene import read_scene

MODEL_SHEET_NAME = "ferrow-sp-40.toml"
"""File name of the model sheet of the invented unit that every scene plays."""

_FIXTURE = """\
# A simulated bench with every instrument, and the unit of the scene "{scene}" on it.
name = "simulated bench, {scene}"
simulated = "{scene}"

[switch]
driver = "simulated"

[capture]
driver = "simulated"
port = "video"

[network]
driver = "simulated"
port = "network"
serves = "http://192.0.2.7/clip"   # what the unit serves there (an address for documentation)

[stick]
driver = "simulated"
port = "usb1"
path = "through"     # bench - unit - its storage

[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0       # half-width of its error, K
guards = true        # cuts the power above the spot's trip; not a safety device

[probe.outside]
driver = "simulated"
spot = "outside"
accuracy = 1.0
guards = true

[probe.ambient]
driver = "simulated"
spot = "ambient"
accuracy = 1.0

[probe.supply]
driver = "simulated"
unit = "A"
"""


def model_sheet_text() -> str:
    """Return the text of the model sheet `MODEL_SHEET_NAME`."""
    return (resources.files("soak.sim") / MODEL_SHEET_NAME).read_text(encoding="utf-8")


def fixture_text(scene: str) -> str:
    """Return the text of a fixture file whose instruments are all simulated.

    Raises
    ------
    FixtureError
        If there is no such scene.
    """
    read_scene(scene)
    return _FIXTURE.format(scene=scene)
