"""Every parser of what somebody else made: what it takes, what it may refuse with, what is right.

Used by `tests/hostile/test_parsers.py` (a few inputs each) and `benchmarks/fuzz.py` (a million).
"""

import functools
import json
import struct
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
from typed_bench import REAL

from soak.bench import readings, rtnetlink
from soak.bench.capture.packet_file import open_packet_file
from soak.bench.capture.video_stream import CannotOpen
from soak.bench.drivers import (
    modbus_register,
    modbus_rtu,
    number_file,
    scpi_meter,
    serial_lines,
)
from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.bench.serial import scpi, text_talk
from soak.bench.stand_in import words as stand_in
from soak.bench.usb import events, names
from soak.bench.usb import words as usb_words
from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.desk.carrying.manifest import Manifest, read_manifest
from soak.desk.forecast import life_table
from soak.desk.soaking import in_use
from soak.desk.trust import keys, qr
from soak.errors import JournalError, SoakError
from soak.journal.rows import Damage, Row, record_of
from soak.ledger import days
from soak.live import prompt
from soak.measure.photograph import prepared
from soak.measure.stick import carried
from soak.measure.video import coded_picture, jpeg_header
from soak.measure.video.intake import Intake
from soak.outside import json_of
from soak.quantities import parse_bytes, parse_duration
from soak.report.signing import sign, token
from soak.roles import Picture, Question
from soak.run import asking, inbox
from soak.run.guard import log as guard_log
from soak.run.script import read_script
from soak.sim.samples import model_sheet_text
from soak.visible import in_line, visible
from soak.words_json import of_plain

HOUSE = Path(__file__).parents[2]
NOW = datetime(2026, 3, 14, 20, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Parser:
    """A parser.

    Attributes
    ----------
    parse : callable
        Takes bytes; what it returns is of no matter.
    refuses : tuple of exception types
        What it may raise of what is not as it should be; all else is a fault.
    seeds : sequence of bytes
        What is right, to be changed.
    longest_bytes : int
        Of an input.
    """

    parse: Callable[[bytes], object]
    refuses: tuple[type[Exception], ...]
    seeds: Sequence[bytes]
    longest_bytes: int = 512

    def take(self, data: bytes) -> None:
        """Parse; a refusal is as good as an answer."""
        with suppress(*self.refuses):
            self.parse(data)


@functools.cache
def _folder() -> Path:
    memory = Path("/dev/shm")
    return Path(tempfile.mkdtemp(prefix="soak-parsed-", dir=memory if memory.is_dir() else None))


def _as_file(read: Callable[[Path], object], name: str) -> Callable[[bytes], object]:
    """Let something that reads a file parse bytes."""

    def parse(data: bytes) -> object:
        file = _folder() / name
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(data)
        return read(file)

    return parse


def _indexed(index: Path) -> object:
    pictures = index.parent / "p.mjpeg"
    if not pictures.exists():
        pictures.write_bytes(b"\xff\xd8\xff" * 2)
    return open_packet_file(pictures)


def _text(read: Callable[[str], object]) -> Callable[[bytes], object]:
    return lambda data: read(data.decode("utf-8", "surrogateescape"))


LINES = [
    serial_lines.SerialLines(driver="serial_lines", port="/dev/x", spot="heatsink", **more)
    for more in (
        {"pattern": r"T=([0-9.]+)"},
        {"pattern": r"(?P<value>[-+\d,.eE]+)\s*C", "decimal_comma": True},
        {"pattern": r"(.*)"},
        {"pattern": r"[a-z ]*(\d+(?:\.\d+)?)"},
    )
]
REGISTERS = [
    modbus_register.ModbusRegister(
        driver="modbus_register",
        port="/dev/x",
        spot="heatsink",
        device=3,
        number=1,
        registers="input",
        holds=holds,
    )
    for holds in ("int16", "float32")
]
METER = scpi_meter.ScpiMeter(driver="scpi_meter", port="/dev/x", spot="heatsink", query="MEAS:T?")
NUMBER = number_file.NumberFile(driver="number_file", file="/x", spot="heatsink")
QUESTIONS = [
    Question("a", readings.msg("Done?"), "done"),
    Question("a", readings.msg("Yes?"), "yes/no", photograph="may"),
    Question("a", readings.msg("How hot?"), "number", unit="degC", photograph="must"),
]
KEY = sign.new_key()


def _serial(data: bytes) -> None:
    for wired in LINES:
        with suppress(readings.Refused):
            serial_lines.parse(data, wired)


def _registers(data: bytes) -> None:
    for wired in REGISTERS:
        with suppress(readings.Refused):
            length = modbus_register.whole_frame(data)
            modbus_register.parse(data[:length] if length else data, wired)


def _coils(data: bytes) -> None:
    length = modbus_rtu.whole_frame(data)
    modbus_rtu.parse(data[:length] if length else data, modbus_rtu.write_coil(1, 2, True))


def _scpi(data: bytes) -> None:
    for parse in (scpi.parse_identity, scpi.parse_number, scpi.parse_error, scpi.parse_on):
        with suppress(readings.Refused):
            parse(data)
    with suppress(readings.Refused):
        scpi_meter.parse(data, METER)
    text_talk.check_answer(data, r"OK( \d+)?")


def _jpeg(data: bytes) -> None:
    with suppress(jpeg_header.NotAJpeg):
        header = jpeg_header.read_jpeg_header(data)
        jpeg_header.can_hold(data, header)
    jpeg_header.is_whole(data)
    with suppress(jpeg_header.NotAJpeg):
        jpeg_header.luma_quantiser(data)


def _packet(data: bytes) -> None:
    packet = Picture(0.0, 0, "mjpeg", (64, 48), memoryview(data))
    arrived = Intake().take(packet, 0.0, 0.0)
    if arrived is not None:
        arrived.held.grey()


def _coded(data: bytes) -> None:
    side = 48
    padded = data[: side * side].ljust(side * side, b"\x80")
    grey = np.frombuffer(padded, np.uint8).reshape(side, side)
    coded_picture.read(cv2.resize(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR), (320, 180)))


def _row(data: bytes) -> None:
    kind, _, body = data.partition(b" ")
    record_of(Row(1, 0, kind.decode("latin-1"), body, b""))


def _plain(data: bytes) -> None:
    of_plain(json_of(data))


def _signed_data(data: bytes) -> None:
    content = json_of(data)
    if isinstance(content, dict):
        sign.check_data(content)


def _stand_in(data: bytes) -> None:
    said = stand_in.heard(data)
    stand_in.proved(said.get("proof"), b"k" * 32, "bench", "a", "b")
    stand_in.status_from(said, 1.0)


def _request(data: bytes) -> None:
    inbox._checked(inbox.Request(**json_of(data)))


def _typed(text: str) -> None:
    for question in QUESTIONS:
        prompt.understood(question, text)
        prompt.why_not(question, text)
    prompt.initials_of(text)


def _when(text: str) -> None:
    with suppress(SoakError):
        days.read_price(text)
    days.read_when(text, NOW)


def _amounts(text: str) -> None:
    for parse in (parse_duration, parse_bytes):
        with suppress(ValueError):
            parse(text)


def _carried(data: bytes) -> None:
    carried.said_by(data)
    carried.said_by_name(data.decode("latin-1"))
    carried.tiny_of(carried.Pack(7), data)


def _shown(text: str) -> None:
    for made in (visible(text), in_line(text)):
        if made != visible(made):
            raise AssertionError(f"{made!r} still holds what is not drawn")
    if "\n" in in_line(text):
        raise AssertionError("a line breaks")


def _small_jpeg() -> bytes:
    done, data = cv2.imencode(".jpg", np.arange(48 * 64, dtype=np.uint8).reshape(48, 64))
    assert done
    return bytes(data.tobytes())


def _manifest() -> bytes:
    return Manifest(7, "K1", "K1-1", "usb1", "2026-01-05T20:00:00Z", "BIN", "", True).text()


def _link_message() -> bytes:
    attributes = struct.pack("=HH", 9, 3) + b"eth0\0\0\0\0"
    body = struct.pack("=BxHiII", 0, 1, 2, 0x1003, 0) + attributes
    return struct.pack("=IHHII", 16 + len(body), 16, 0, 1, 0) + body


SHEET = model_sheet_text().encode()
FIXTURE = REAL.encode()
SCRIPT = (HOUSE / "soak" / "run" / "scripts" / "quick.toml").read_bytes()
UEVENT = (
    b"add@/devices/usb1/1-2\0ACTION=add\0DEVPATH=/devices/usb1/1-2\0SUBSYSTEM=usb\0"
    b"DEVTYPE=usb_device\0"
)
PARSERS: Mapping[str, Parser] = {
    "serial lines": Parser(_serial, (), [b"T=23.5\r\n", b"23,5 C", b"abab12.5", b"\xff\x00"]),
    "Modbus registers": Parser(_registers, (), [b"\x03\x04\x02\x01\x17", b"\x03\x84\x02\xc2\xc1"]),
    "Modbus coils": Parser(_coils, (readings.Refused,), [modbus_rtu.write_coil(1, 2, True)]),
    "SCPI answers": Parser(
        _scpi, (readings.Refused,), [b"*IDN? A,B,0,1\n", b"+1.2E+01", b'-113,"x"', b"ON", b"OK 1"]
    ),
    "number files": Parser(
        lambda data: number_file.parse(data, NUMBER), (readings.Refused,), [b"42000\n", b"1e3"]
    ),
    "device events": Parser(events.parse_event, (), [UEVENT, b"OVER_CURRENT_PORT=a"]),
    "kernel log": Parser(
        events.parse_record, (), [b"6,1,2,-;usb 1-2: reset high-speed USB device number 3\n x"]
    ),
    "network messages": Parser(rtnetlink.parse_messages, (), [_link_message()]),
    "hub descriptors": Parser(
        usb_words.hub_words, (ValueError,), [bytes([9, 0x29, 4, 0xE9, 0, 50, 0, 0, 0])]
    ),
    "names of USB devices": Parser(_text(names.names_a_device), (ValueError,), [b"1d6b:0002"]),
    "JPEG headers": Parser(_jpeg, (), [_small_jpeg()], 4096),
    "pictures": Parser(_packet, (), [_small_jpeg()], 4096),
    "coded pictures": Parser(_coded, (), [bytes(48 * 48)], 48 * 48),
    "photographs": Parser(prepared, (ValueError,), [_small_jpeg()], 4096),
    "codes in pictures": Parser(qr.read_qr, (), [_small_jpeg()], 2048),
    "texts of codes": Parser(
        _text(token.told),
        (sign.Changed, sign.NotSigned),
        [b"SOAK SIGNED REPORT 2 " + b"ABC0:%" * 40],
    ),
    "pages": Parser(
        sign.check_file,
        (sign.Changed, sign.NotSigned),
        [sign.sign_file(b'<meta content="' + sign.HOLE.encode() + b'">', KEY)],
        4096,
    ),
    "signed data": Parser(
        _signed_data,
        (sign.Changed, sign.NotSigned, ValueError),
        [json.dumps(sign.sign_data({"report_id": "a", "grade": "ready"}, KEY)).encode()],
        2048,
    ),
    "keys": Parser(_text(keys._given), (SoakError,), [b"0" * 64]),
    "private keys": Parser(
        lambda data: sign.key_from_pem(data, "bench.key"), (SoakError,), [KEY.pem()], 1024
    ),
    "fixtures": Parser(_as_file(read_fixture, "f.toml"), (SoakError,), [FIXTURE], 2048),
    "model sheets": Parser(_as_file(read_model_sheet, "m.toml"), (SoakError,), [SHEET], 4096),
    "scripts": Parser(_as_file(read_script, "s.toml"), (SoakError,), [SCRIPT], 4096),
    "bench cards": Parser(
        _as_file(lambda file: read_bench(BenchFolder(file.parent)), "bench/bench.toml"),
        (SoakError,),
        [b'name = "Yard"\naddress = "The Yard 3"\nlanguage = "de"\n'],
    ),
    "tables of lives": Parser(
        _as_file(lambda file: life_table.read_life_table(str(file), _folder()), "lives.csv"),
        (SoakError,),
        [b"unit,hours,failed\nA,10,1\nB,20.5,0\n", b"unit,hours,failed,entry,group\nA,9,1,2,x\n"],
    ),
    "indexes of pictures": Parser(
        _as_file(_indexed, "p.mjpeg.idx.json"),
        (CannotOpen,),
        [b'{"fps": 30, "frames": [[0, 3, 0], [3, 3, 33]]}'],
    ),
    "records": Parser(
        _row, (Damage,), [b'mark {"t_s":1.0,"what":"note","detail":{"text":"x"}}', b"state {}"]
    ),
    "messages": Parser(
        _plain,
        (ValueError, TypeError, KeyError),
        [b'{"phrase": "{a} b", "values": {"a": {"amount": [1.5, "s"]}}}', b'{"joined": ["a"]}'],
    ),
    "guard logs": Parser(
        lambda data: guard_log._parse(Path("g"), data), (JournalError,), [b'{"number":1}\n']
    ),
    "requests": Parser(
        _request,
        (ValueError, TypeError),
        [b'{"what": "note", "detail": {"text": "x", "ago_s": 1}, "by": "operator"}'],
    ),
    "open questions": Parser(
        _as_file(lambda file: asking.open_question(file.parent), asking.ASKED),
        (),
        [b'{"id": "a", "expects": "done", "text": "x"}'],
    ),
    "holders": Parser(
        _as_file(in_use._holder, "held"), (), [b'{"by": "K1-20260105", "process": 17}']
    ),
    "stand-in": Parser(
        _stand_in,
        (stand_in.Unfit,),
        [
            b'{"at": "seen", "ago_s": 1, "udc": "x", "speed_mbps": 480, "enumerations": 1, '
            b'"resets": 0, "read_bytes": 1, "written_bytes": 2, "read_here_bytes": null}'
        ],
    ),
    "manifests": Parser(read_manifest, (), [_manifest()], 2048),
    "contents of sticks": Parser(_carried, (), [bytes(range(256)) * 2], 2048),
    "answers typed": Parser(_text(_typed), (), [b"yes", b"23.5 C", b"74 F", b"by SM"]),
    "days and prices": Parser(
        _text(_when), (SoakError,), [b"2026-03-14 11:30", b"yesterday", b"49.90"]
    ),
    "lengths and sizes": Parser(_text(_amounts), (), [b"1 h 30 min", b"256 MB"]),
    "texts for screens": Parser(_text(_shown), (), ["K\u202e1\x1b[2J\n".encode()]),
}
