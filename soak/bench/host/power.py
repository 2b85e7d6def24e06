"""What feeds this host: mains, or its battery alone."""

from pathlib import Path


def runs_on_battery(root: Path) -> bool:
    """Return whether a battery alone feeds it: it has mains inputs, and none is connected.

    References
    ----------
    Linux, Documentation/ABI/testing/sysfs-class-power: `type` is `Mains`, `online` 0 or 1.
    """
    folders = (root / "sys/class/power_supply").glob("*")
    inputs = [folder / "online" for folder in folders if _text(folder / "type") == "Mains"]
    return bool(inputs) and all(_text(online) == "0" for online in inputs)


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8", "replace").strip()
    except OSError:
        return ""
