"""Cues for hands on a plug: what to do next, and at once when contact was lost."""

import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from soak.derive.said import state_words
from soak.live.window import Window
from soak.marks import MovementBegins, StretchEnds, fact_in
from soak.names import source_named
from soak.reader import spoken, spoken_code
from soak.records import Observed, State
from soak.rules.wiggle import movement_words
from soak.words import Amount, Message, joined, message_of, msg

_VOICES = ("espeak-ng", "espeak", "say")
_SPEAKS_AT_MOST_S = 5.0


@dataclass(slots=True)
class Cues:
    """Tell a hand what to do, while its owner looks at the plug and not at the screen.

    One bell: the next movement. Three: contact was just lost. Where the system has a voice it
    says both.

    Attributes
    ----------
    lost : mapping of source to states
        What counts as contact lost (`derive.faults.lost_by`).
    """

    lost: Mapping[str, frozenset[str]]
    window: Window
    speak: Callable[[str], None] | None = None
    _movement: str = ""
    _bad: dict[str, float] = field(default_factory=dict)

    def watch(self, record: Observed) -> None:
        """Take every record."""
        if begun := fact_in(record, MovementBegins):
            self._begin(begun)
        elif fact_in(record, StretchEnds):
            self._movement = ""
        elif isinstance(record, State) and record.source in self.lost and self._movement:
            self._look(record)

    def _begin(self, begun: MovementBegins) -> None:
        self._movement = begun.movement
        large = " ".join(spoken(movement_words(self._movement)).upper())
        cue = joined(", ", [message_of(begun.cue), Amount(begun.lasts_s, "s")])
        self._write("\n        >>>   ", joined("   <<<    ", [large, cue]), 1)
        self._say(message_of(begun.cue))

    def _look(self, state: State) -> None:
        if state.state in self.lost[state.source]:
            if state.source not in self._bad:
                self._bad[state.source] = state.t_s
                text = msg(
                    "LOST at {movement}: {source} {state}",
                    movement=movement_words(self._movement),
                    source=source_named(state.source),
                    state=state_words(state.state),
                )
                self._write("        !!!   ", text, 3)
                self._say(msg("lost"))
        elif state.source in self._bad:
            text = msg(
                "{source} back after {time}",
                source=source_named(state.source),
                time=Amount(state.t_s - self._bad.pop(state.source), "s"),
            )
            self._write("              ", text, 0)

    def _write(self, sign: str, told: Message, bells: int) -> None:
        self.window.say(told, before=sign, rings=bells)

    def _say(self, told: Message) -> None:
        if self.speak is not None:
            self.speak(spoken(told))


def voice() -> Callable[[str], None] | None:
    """Return what speaks a cue aloud, or None where the system has no voice for the language."""
    program = next((path for name in _VOICES if (path := shutil.which(name))), None)
    if program is None or not sys.stderr.isatty():
        return None

    def speak(text: str) -> None:
        # In a thread of its own: a cue that is spoken late must not hold up what is recorded.
        threading.Thread(target=_spoken, args=(program, text), daemon=True).start()

    return speak


def _in_its_language(program: str) -> list[str]:
    """Return the option for a voice of the reader's language; `say` speaks the system's."""
    return ["-v", spoken_code()] if "espeak" in Path(program).name else []


def _spoken(program: str, text: str) -> None:
    with suppress(OSError, subprocess.TimeoutExpired):
        subprocess.run(
            [program, *_in_its_language(program), text],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=_SPEAKS_AT_MOST_S,
            check=False,
        )
