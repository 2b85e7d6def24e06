"""List what is plugged in here, with the lines to paste into a fixture file."""

from pathlib import Path

from soak.bench.find import FoundPort, find_hwmon, find_network_ports, find_serial
from soak.bench.find_media import FoundCamera, find_cameras, find_sticks
from soak.bench.usb.find import find_usb
from soak.desk.bench_folder import BenchFolder
from soak.desk.units import open_ledger
from soak.errors import FixtureError, UsageError
from soak.unsaid import MUST_SAY, unsaid


def find(snapshots: str, bench: Path | None = None) -> str:
    """Return what is plugged in: ports, cameras, sticks, USB devices; a picture of each camera.

    With a bench, also write out what its model sheets leave unsaid, and say how worn its own
    cables and sticks are.
    """
    parts = [
        _part("Serial ports", [_serial(port) for port in find_serial()]),
        _part("Cameras and capture cards", _cameras(snapshots)),
        _part(
            "Sticks",
            [f"{stick.folder} ({stick.name})\n{stick.toml}" for stick in find_sticks()],
        ),
        _part("USB devices", [f"{one.description}\n{one.toml}" for one in find_usb()]),
        _part("Network ports", [f"{one.description}\n{one.toml}" for one in find_network_ports()]),
        _part("Thermometers", [f"{one.description}\n{one.toml}" for one in find_hwmon()]),
    ]
    parts += [] if bench is None else [*_unsaid(bench), *_wear(bench)]
    return "\n".join(parts)


def _unsaid(bench: Path) -> list[str]:
    """Return the lines to complete in the bench's model sheets, above their first `[table]`."""
    models = BenchFolder(bench)
    found = []
    for file in sorted(models.models.glob("*.toml")):
        try:
            silent = unsaid(models.model_sheet(file.stem))
        except FixtureError as fault:
            found.append(str(fault))
            continue
        lines = [f"{key} =    # true or false: {MUST_SAY[key]}" for key in silent]
        found += ["\n".join([f"# {file.relative_to(bench)}", *lines])] if silent else []
    return [_part("Model sheets that leave something unsaid", found)] if found else []


def _wear(bench: Path) -> list[str]:
    """Return the wear of the bench's own parts; nothing where there is no ledger yet."""
    if not BenchFolder(bench).ledger.is_file():
        return []
    found = [part.warning or part.text for part in open_ledger(bench).bench_wear()]
    return [_part("Cables and sticks of this bench", found)] if found else []


def _serial(port: FoundPort) -> str:
    lines = (port.name, port.note, port.switch_toml, port.probe_toml)
    return "\n".join(line for line in lines if line)


def _cameras(snapshots: str) -> list[str]:
    return [
        f"{camera.device.name}\n{_kept(camera, number, snapshots)}\n{camera.toml}"
        for number, camera in enumerate(find_cameras(), 1)
    ]


def _kept(camera: FoundCamera, number: int, snapshots: str) -> str:
    if not camera.snapshot:
        return f"# no picture: {camera.trouble}"
    if not snapshots:
        return "# it delivers pictures; --snapshots FOLDER keeps one"
    file = Path(snapshots) / f"camera-{number}.jpg"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(camera.snapshot)
    except OSError as fault:
        raise UsageError(f"{file}: cannot be written: {fault.strerror}") from None
    return f"# what it sees: {file}"


def _part(title: str, found: list[str]) -> str:
    if not found:
        return f"{title}: none found.\n"
    return f"{title}: {len(found)}\n\n" + "\n\n".join(found) + "\n"
