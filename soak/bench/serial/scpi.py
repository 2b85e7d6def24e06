"""What SCPI instruments say: numbers, errors, identity, read as instruments really write them.

References
----------
IEEE 488.2-1992, 10.14 (`*IDN?`) and 8.7 (numeric response data NR1, NR2, NR3).
SCPI-99, Volume 1, 7.2.1 (9.9E37 stands for infinity, 9.91E37 for not a number) and Volume 2,
21.8 (`SYSTem:ERRor?`, `0,"No error"`).
"""

import re
from dataclasses import dataclass

import trio

from soak.bench.readings import Refused, as_number, shown
from soak.bench.serial.port import SerialPort
from soak.errors import BenchFault, told_of
from soak.words import Number, msg

OVERLOAD = 9.9e37
"""From here on a number is not a reading."""

_ERROR = re.compile(r'([+-]?\d{1,6})\s*(?:,\s*"?(.*?)"?)?')
_MOST_ERRORS = 20
"""An error queue longer than this does not empty: the instrument repeats itself."""


@dataclass(frozen=True, slots=True)
class Identity:
    """The answer to `*IDN?`; a part that is missing is empty."""

    maker: str
    model: str = ""
    serial_number: str = ""
    firmware: str = ""


def parse_identity(line: bytes) -> Identity:
    """Read an answer to `*IDN?`, leniently.

    The standard asks for four fields separated by commas, and `0` for an unknown one. Real
    instruments echo the command before it, give three or five fields, or quote them.

    Raises
    ------
    Refused
        If there is nothing printable in it.
    """
    text = _text(line)
    text = re.sub(r"^\*IDN\??\s*", "", text, flags=re.IGNORECASE)
    fields = [field.strip(' "') for field in text.split(",")]
    fields = ["" if field == "0" else field for field in fields]
    if not any(fields):
        raise Refused(msg("the identity {line} says nothing", line=shown(line.strip())))
    maker, model, serial_number = (*fields, "", "", "")[:3]
    return Identity(maker, model, serial_number, ", ".join(fields[3:]))


def parse_number(line: bytes) -> float:
    """Read a number, NR1 to NR3.

    Raises
    ------
    Refused
        If it is not one, or stands for overload or not-a-number.
    """
    value = as_number(_text(line))
    if abs(value) >= OVERLOAD:
        raise Refused(
            msg(
                "overload ({value}): the instrument could not measure it",
                value=Number(value, ".3g"),
            )
        )
    return value


def parse_error(line: bytes) -> tuple[int, str]:
    """Read an answer to `SYST:ERR?`: number (0: no error) and text.

    Raises
    ------
    Refused
        If it is not one.
    """
    match = _ERROR.fullmatch(_text(line))
    if match is None:
        raise Refused(msg("{line} is not an answer to SYST:ERR?", line=shown(line.strip())))
    return int(match[1]), (match[2] or "").strip()


def parse_on(line: bytes) -> bool:
    """Read an answer to `OUTP?`.

    Raises
    ------
    Refused
        If it is not 1, 0, ON or OFF.
    """
    states = {"1": True, "+1": True, "ON": True, "0": False, "+0": False, "OFF": False}
    said = _text(line).upper()
    if said not in states:
        raise Refused(msg("{line} is not an answer to OUTP?", line=shown(line.strip())))
    return states[said]


async def tell(port: SerialPort, command: str, line_end: bytes, pause_s: float) -> None:
    """Send a command that has no answer in the caller's turn, and give the instrument time for it.

    Many small instruments lose what comes while they are still busy with the command before.

    Raises
    ------
    BenchFault
        If the port has vanished.
    """
    await port.tell(command.encode("latin-1", "replace") + line_end)
    await trio.sleep(pause_s)


async def query(port: SerialPort, command: str, line_end: bytes, limit_s: float) -> bytes:
    """Send a query in the caller's turn and return the line that comes back, without its end.

    Raises
    ------
    Refused
        If no whole line came in time.
    BenchFault
        If the port has vanished.
    """
    await port.tell(command.encode("latin-1", "replace") + line_end)
    answer = await port.answer(b"\n" if line_end.endswith(b"\n") else line_end, limit_s)
    return answer.strip(b" \r\n")


async def who(name: str, port: SerialPort, line_end: bytes, limit_s: float) -> Identity:
    """Ask `*IDN?` in the caller's turn; an instrument that does not answer is not there.

    Raises
    ------
    BenchFault
        If nothing came back, or nothing that names anyone.
    """
    try:
        return parse_identity(await query(port, "*IDN?", line_end, limit_s))
    except Refused as refusal:
        raise BenchFault(
            name,
            msg(
                "does not say who it is ({why}); check baud, cable and power", why=told_of(refusal)
            ),
        ) from None


async def errors(port: SerialPort, line_end: bytes, limit_s: float) -> list[str]:
    """Empty the instrument's error queue in the caller's turn; return what was in it.

    Raises
    ------
    Refused, BenchFault
        As `query`.
    """
    errors: list[str] = []
    while len(errors) < _MOST_ERRORS:
        number, text = parse_error(await query(port, "SYST:ERR?", line_end, limit_s))
        if number == 0:
            break
        errors.append(f"{number} {text}".strip())
    return errors


def _text(line: bytes) -> str:
    return line.decode("latin-1").strip(" \t\r\n\x00")
