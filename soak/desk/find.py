"""List what is plugged in here, with the lines to paste into a fixture file."""

from collections.abc import Sequence
from pathlib import Path

from soak.bench.find import FoundPort, find_hwmon, find_network_ports, find_serial
from soak.bench.find_media import FoundCamera, find_cameras, find_sticks
from soak.bench.usb.find import find_usb
from soak.desk.bench_folder import BenchFolder
from soak.desk.units import open_ledger
from soak.errors import FixtureError, UsageError
from soak.pasting import remark
from soak.unsaid import MUST_SAY, unsaid
from soak.words import Message, in_brackets, joined, lines_of, msg


def find(snapshots: str, bench: Path | None = None) -> Message:
    """Return what is plugged in: ports, cameras, sticks, USB devices; a picture of each camera.

    With a bench, also write out what its model sheets leave unsaid, and say how worn its own
    cables and sticks are.
    """
    parts = [
        _part(msg("Serial ports"), [_serial(port) for port in find_serial()]),
        _part(msg("Cameras and capture cards"), _cameras(snapshots)),
        _part(
            msg("Sticks"),
            [
                lines_of([joined(" ", [stick.folder, in_brackets(stick.name)]), stick.toml])
                for stick in find_sticks()
            ],
        ),
        _part(msg("USB devices"), [lines_of([usb.description, usb.toml]) for usb in find_usb()]),
        _part(
            msg("Network ports"),
            [lines_of([port.description, port.toml]) for port in find_network_ports()],
        ),
        _part(
            msg("Thermometers"),
            [lines_of([thermometer.description, thermometer.toml]) for thermometer in find_hwmon()],
        ),
    ]
    parts += [] if bench is None else [*_unsaid(bench), *_wear(bench)]
    return joined("\n", parts)


def _unsaid(bench: Path) -> list[Message]:
    """Return the lines to complete in the bench's model sheets, above their first `[table]`."""
    models = BenchFolder(bench)
    sheets: list[Message] = []
    for file in sorted(models.models.glob("*.toml")):
        try:
            silent = unsaid(models.model_sheet(file.stem))
        except FixtureError as fault:
            sheets.append(fault.told)
            continue
        lines = [
            msg("{key} =    # true or false: {asks}", key=key, asks=MUST_SAY[key]) for key in silent
        ]
        sheets += [lines_of([remark(str(file.relative_to(bench))), *lines])] if silent else []
    return [_part(msg("Model sheets that leave something unsaid"), sheets)] if sheets else []


def _wear(bench: Path) -> list[Message]:
    """Return the wear of the bench's own parts; nothing where there is no ledger yet."""
    if not BenchFolder(bench).ledger.is_file():
        return []
    sentences = [part.warning or part.text for part in open_ledger(bench).bench_wear()]
    return [_part(msg("Cables and sticks of this bench"), sentences)] if sentences else []


def _serial(port: FoundPort) -> Message:
    return lines_of([port.name, port.note, port.switch_toml, port.probe_toml])


def _cameras(snapshots: str) -> list[Message]:
    return [
        joined("\n", [camera.device.name, _kept(camera, number, snapshots), camera.toml])
        for number, camera in enumerate(find_cameras(), 1)
    ]


def _kept(camera: FoundCamera, number: int, snapshots: str) -> Message:
    if not camera.snapshot:
        return remark(msg("no picture: {why}", why=camera.trouble))
    if not snapshots:
        return remark(msg("it delivers pictures; --snapshots FOLDER keeps one"))
    file = Path(snapshots) / f"camera-{number}.jpg"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(camera.snapshot)
    except OSError as fault:
        raise UsageError(
            msg("{file}: cannot be written: {why}", file=str(file), why=str(fault.strerror))
        ) from None
    return remark(msg("what it sees: {file}", file=str(file)))


def _part(title: Message, found: Sequence[Message]) -> Message:
    if not found:
        return joined("", [msg("{title}: none found.", title=title), "\n"])
    head = joined(": ", [title, len(found)])
    return joined("", [joined("\n\n", [head, *found]), "\n"])
