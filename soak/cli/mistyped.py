"""What is typed wrong on the command line, told as all other errors are: typer repeats it raw."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from typer.core import TyperGroup
from typer.exceptions import TyperException

from soak.errors import UsageError
from soak.words import msg


class Verbs(TyperGroup):
    """The verbs; typer reads the command line and carries it out, we say what is wrong with it."""

    def make_context(self, *given: Any, **more: Any) -> Any:
        with _told_by_us():
            return super().make_context(*given, **more)

    def invoke(self, ctx: Any) -> Any:
        with _told_by_us():
            return super().invoke(ctx)


@contextmanager
def _told_by_us() -> Iterator[None]:
    try:
        yield
    except TyperException as fault:
        if type(fault).__name__ == "NoArgsIsHelpError":  # shows the help, and nothing typed
            raise
        within = getattr(fault, "ctx", None)
        command = within.command_path if within else "soak"
        why = fault.format_message().removesuffix(".")
        raise UsageError(
            msg("{why}; `{command} --help` says what there is", why=why, command=command)
        ) from None
