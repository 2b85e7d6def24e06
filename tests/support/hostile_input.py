"""Texts and files that somebody could hand to a verb to hurt the program or whoever reads along.

What signs do is told by ECMA-48 (control functions), Unicode Standard Annex 9 (bidirectional marks)
and Unicode Technical Report 36 (what is not seen).
"""

import os
import socket
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

FORGED = "\nsoak: FORGED"
TEXTS: Mapping[str, str] = {
    "clears the screen": "\x1b[2J\x1b[H",
    "names the window": "K1\x1b]0;FORGED\x07",
    "fills the clipboard": "\x1b]52;c;cm0gLXJmIC8=\x07",
    "makes a link": "\x1b]8;;http://forged.invalid\x1b\\here\x1b]8;;\x1b\\",
    "asks for a setting": "\x1bP$qm\x1b\\",
    "asks who it is": "\x1b[c\x1b[6n",
    "hides the cursor": "\x1b[?25l\x1b[?1049h\x1b[31m",
    "other letters": "\x1b(0\x0e",
    "a line more": f"K1{FORGED}",
    "a line over": "K1\rsoak: FORGED",
    "steps back": "failed\b\b\b\b\b\bready ",
    "from right to left": "\u202eydaer\u202c \u2066x\u2069 \u200f",
    "no width": "K\u200b1\u200d\ufeff\u00ad\u2060",
    "C1": "\x9b2J\x9d0;FORGED\x9c\x85soak: FORGED",
    "lines of Unicode": "K1\u2028soak: FORGED\u2029soak: FORGED",
    "no UTF-8": os.fsdecode(b"K1\xff\xfe\x9b31m"),
    "endless": "K1 " + "A" * 90_000,
    "many marks": "K1" + "a\u0301" + "\u0301" * 3000,
    "wide": "\U0001f600" * 300,
    "formula": '=HYPERLINK("http://forged.invalid","K1")',
    "formula behind a tab": "\t=1+1",
    "fields": "{0} {unit.__class__} %s %n ${HOME} {{7*7}}",
    "upwards": "../" * 60 + "etc/passwd",
    "too long a name": "é" * 200,
    "quotes": "'; DROP TABLE unit; --",
    "empty": "",
    "blank": "   ",
    "a dash": "-",
    "digits": "9" * 5000,
    "no number": "nan",
    "too large": "1e400",
    "endless number": "-inf",
    "other digits": "\u0663\u0664",
    "device": "/dev/zero",
    "a folder": "/",
}
NUMBERS = ("no number", "too large", "endless number", "digits", "empty", "C1", "a line more")
"""What a number may be asked to take."""


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, rows: bytes = b"") -> bytes:
    """Return a PNG of such a size, however much of it is there."""
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    data = _chunk(b"IDAT", zlib.compress(rows))
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + data + _chunk(b"IEND", b"")


JPEG = bytes.fromhex(
    "ffd8ffe000104a46494600010100000100010000ffdb004300"
    + "01" * 64
    + "ffc0000b08ffffffff01011100ffc4001400010000000000000000000000000000"
    "0009ffc40014100100000000000000000000000000000000ffda0008010100003f00"
)
"""A JPEG of 65535 by 65535 that ends behind its header (ITU-T T.81, B.2)."""
DEEP = 100_000
CONTENTS: Mapping[str, bytes] = {
    "empty": b"",
    "one NUL": b"\x00",
    "NULs": b"\x00" * 5000,
    "no UTF-8": b'name = "\xff\xfe\x9b"\nunit,hours,failed\n\xff,1,yes\n',
    "BOM and CRLF": b'\xef\xbb\xbfname = "x"\r\nunit,hours,failed\r\n',
    "UTF-16": "name = 'x'\n".encode("utf-16"),
    "deep TOML": b"a = " + b"[" * DEEP + b"]" * DEEP + b"\n",
    "deep JSON": b"[" * DEEP + b"]" * DEEP,
    "deep objects": b'{"files":' * 20_000 + b"1" + b"}" * 20_000,
    "digits": b"name = " + b"9" * 5000 + b"\n",
    "digits in JSON": b'{"soaks": [{"seal_sha256": ' + b"9" * 5000 + b"}]}",
    "not finite": b'{"files": {"a": NaN, "b": 1e400, "c": -Infinity}}',
    "infinite TOML": b"name = inf\nnot_after = nan\nhours = 1e400\n",
    "wide cell": b"unit,hours,failed\nK1," + b"9" * 200_000 + b",yes\n",
    "odd cells": b"unit,hours,failed\n=1+1,nan,yes\nK1,1e400,yes\nK2,-5,no\nK3\n,,,,,,\n",
    "escapes": (
        b'name = "\\u001b]0;FORGED\\u0007\\nsoak: FORGED\\u202e"\n["\\u001b[2J\\nsoak: FORGED"]\n'
        b'x = "\\u009b2J"\n'
    ),
    "escapes raw": b"\x1b]0;FORGED\x07\nsoak: FORGED\n\x1b[2J\n",
    "many keys": b"".join(b"k%d = %d\n" % (at, at) for at in range(20_000)),
    "a long key": b"k" * 200_000 + b" = 1\n",
    "small PNG": png(1, 1, b"\x00\x00"),
    "truncated PNG": png(64, 64, bytes(65 * 64))[:60],
    "huge PNG": png(2_000_000_000, 2_000_000_000),
    "wide PNG": png(60_000, 30_000, b"\x00" * 1000),
    "huge JPEG": JPEG,
    "JPEG marker": b"\xff\xd8\xff",
    "SQLite head": b"SQLite format 3\x00" + b"\xff" * 5000,
    "PDF head": b"%PDF-1.7\n" + b"soak-signature:" * 3000,
    "page": b'<meta name="generator" content="soak ' + b"0" * 5000 + b'">',
}


def make_files(folder: Path) -> Mapping[str, Path]:
    """Write them all, and what is no file; return what there is by its name."""
    folder.mkdir()
    made = {}
    for name, content in CONTENTS.items():
        made[name] = folder / name.replace(" ", "-")
        made[name].write_bytes(content)
    made["huge"] = folder / "huge"
    with made["huge"].open("wb") as file:
        file.truncate(20 << 30)  # sparse: it takes no room
    made["a pipe"] = folder / "pipe"
    os.mkfifo(made["a pipe"])
    made["a socket"] = folder / "socket"
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind(str(made["a socket"]))
    made["a folder"] = folder / "folder"
    made["a folder"].mkdir()
    made["itself"] = folder / "itself"
    made["itself"].symlink_to("itself")
    made["nowhere"] = folder / "nowhere"
    made["nowhere"].symlink_to("not/there")
    made["endless"] = Path("/dev/zero")
    made["random"] = Path("/dev/urandom")
    made["no file in it"] = made["empty"] / "file"
    made["escapes in its name"] = folder / "\x1b]0;FORGED\x07\u202e\nsoak: FORGED"
    made["escapes in its name"].write_bytes(b"x")
    made["no UTF-8 in its name"] = folder / os.fsdecode(b"\xff\xfe\x9b")
    made["no UTF-8 in its name"].write_bytes(b"x")
    made["too long a name"] = folder / ("n" * 300)
    made["deep folders"] = folder.joinpath(*["d"] * 500)
    made["long path"] = folder.joinpath(*["d" * 200] * 30)
    made["still to read"] = Path("/proc/kmsg")
    return made
