"""Lines of a file written in TOML, to paste: its keys as they are, its remarks in a language."""

from soak.words import Message, Said, joined, lines_of


def remark(told: Said) -> Message:
    """Make a remark of a file that is written in TOML."""
    return joined("", ["# ", told])


def remarked(line: str, told: Said) -> Message:
    """Put a remark behind a line of a file that is written in TOML."""
    return joined("  ", [line, remark(told)])


def pasted(*lines: Said) -> Message:
    """Return lines to paste into a file, each with its end."""
    return joined("", [lines_of(lines), "\n"])
