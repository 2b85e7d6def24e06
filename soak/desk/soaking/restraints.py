"""What would harm a model: refused until the operator states that it does not apply here."""

from collections.abc import Sequence
from dataclasses import replace

from soak.desk.orders import Prepared
from soak.errors import ScriptError, UsageError
from soak.frozen.fixture import Fixture
from soak.frozen.references import Stated
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.frozen.wiring import ButtonWired
from soak.run.script import Script, Stretch
from soak.unsaid import MUST_SAY, unsaid
from soak.words import NOTHING_SAID, Message, in_brackets, joined, msg

MOST_HARD_CUTS = 5
"""So many times a script may cut the power of a unit with a disk in it (common practice: a disk
parks its heads in an emergency then, and what it was writing may be lost)."""


def restrained(prepared: Prepared, stated: Stated) -> Prepared:
    """Return the soak with what was stated on record, and what the model sheet leaves unsaid told.

    Raises
    ------
    UsageError, ScriptError
        If the model holds what the script would harm, and nothing was stated against it.
    """
    one = prepared
    check(one.sheet, one.script, one.wanted.unit, stated=stated, fixture=one.fixture)
    references = replace(one.wanted.references, stated=stated)
    sentence = still_unsaid(one.sheet, one.wanted.unit.model)
    warnings = [
        *one.warnings,
        *([msg("{told}; every page says so", told=sentence)] if sentence else []),
    ]
    return replace(one, wanted=replace(one.wanted, references=references), warnings=warnings)


def check(
    sheet: ModelSheet, script: Script, unit: UnitStated, stated: Stated, fixture: Fixture
) -> None:
    """Check one unit of a model against a script on a fixture.

    Parameters
    ----------
    unit : Json
        Its `tag`, and its `model` by the name of the sheet's file.

    Raises
    ------
    UsageError, ScriptError
    """
    tag = unit.tag
    _not_alone(sheet, script, tag, model=unit.model, stated=stated)
    button = sheet.button
    if button is not None and button.stays_off and fixture.switch and not fixture.of(ButtonWired):
        raise UsageError(
            msg(
                "{tag}: {model} stays off when power comes back, and nothing on {file} presses "
                'its button; add [button], with driver = "by_hand" if it is you',
                tag=tag,
                model=sheet.model,
                file=fixture.file,
            )
        )
    softly = bool(button and button.stops and fixture.of(ButtonWired))
    cuts = sum(_hard_cuts(stretch, softly=softly) for stretch in script.stretches)
    if sheet.disk is not False and cuts > MOST_HARD_CUTS and not stated.hard_cuts:
        holds = (
            msg("holds a disk")
            if sheet.disk
            else msg("may hold a disk, its model sheet does not say")
        )
        raise ScriptError(
            script.file,
            "",
            msg(
                "cuts the power {cuts} times, and {model} ({tag}) {holds}: plan at most "
                "{most_hard_cuts} cuts or a soft stop before each, or say --hard-cuts",
                cuts=cuts,
                model=sheet.model,
                tag=tag,
                holds=holds,
                most_hard_cuts=MOST_HARD_CUTS,
            ),
        )


def _not_alone(sheet: ModelSheet, script: Script, tag: str, model: str, stated: Stated) -> None:
    """Refuse what must not run alone, or of which nobody said whether it may."""
    alone = [stretch.name for stretch in script.stretches if not stretch.attended]
    if not alone or stated.attended:
        return
    if sentence := still_unsaid(sheet, model):
        raise UsageError(
            msg(
                "{tag}: {told}; write each there as true or false, or stay with the unit to "
                "the end and say --attended: stretch {alone} runs alone",
                tag=tag,
                told=sentence,
                alone=repr(alone[0]),
            )
        )
    if sheet.lithium_cell and not stated.cell_out:
        raise UsageError(
            msg(
                "{tag}: {model} holds a lithium cell and stretch {alone} runs alone; take the "
                "cell out and say --cell-out, or stay with it to the end and say --attended",
                tag=tag,
                model=sheet.model,
                alone=repr(alone[0]),
            )
        )


def still_unsaid(sheet: ModelSheet, model: str) -> Message:
    """Say what the sheet of a model leaves unsaid, by its file; empty where that is nothing."""
    asked = [joined(" ", [key, in_brackets(MUST_SAY[key])]) for key in unsaid(sheet)]
    if not asked:
        return NOTHING_SAID
    return msg(
        "fixtures/models/{model}.toml does not say {asked}", model=model, asked=joined(", ", asked)
    )


def unguarded(fixture: Fixture, sheet: ModelSheet) -> Sequence[Message]:
    """Return what nobody would cut the power for, a sentence each."""
    guards = {probe.spot for probe in fixture.probes.values() if probe.guards}
    lines = []
    for name, spot in sheet.spots.items():
        if spot.trip_degc is not None and name not in guards:
            limit = f"{spot.trip_degc:g} degC"
            lines.append(
                msg(
                    "no probe guards {text}: nothing cuts the power at {limit}",
                    text=spot.text,
                    limit=limit,
                )
            )
        if spot.trip_degc is None and name in guards:
            lines.append(
                msg(
                    "the probe at {text} guards by its silence only: the model sheet gives it no "
                    "trip_degc",
                    text=spot.text,
                )
            )
    if guards and fixture.switch is None:
        lines.append(msg("a probe guards and no switch is wired: nothing can cut the power"))
    return lines


def _hard_cuts(stretch: Stretch, *, softly: bool) -> int:
    """Count how often a stretch cuts the power with no soft stop before."""
    cuts = 0
    if (settings := stretch.checks.get("power_cycles")) is not None:
        planned = settings.model_dump()
        soft = softly and planned.get("soft_stop")
        kinds = ("quick",) if soft else ("warm", "cold", "quick")
        cuts += sum(int(planned.get(kind) or 0) for kind in kinds)
    if (settings := stretch.checks.get("supply_margin")) is not None:
        planned = settings.model_dump()
        cuts += len(planned["breaks_s"]) * planned["times"]
        if not (softly and planned["soft_stop"]):
            cuts += 2 * planned["starts"] + 1  # before the first, after each
    return cuts


_ALWAYS = (
    msg("soak is not a safety device: its guard is a program and can fail like one."),
    msg(
        "Mains work only by competent people: residual-current device (30 mA) on the bench supply, "
        "its test button pressed, earth checked, vents open, lithium cells out or somebody "
        "present, hot parts out of reach, laser drives closed, a smoke alarm in the room. Local "
        "codes and licensed practice come first."
    ),
)
_OF_MODEL = {
    "mains": (
        msg("This model is fed with mains voltage"),
        msg("nothing inside is to be touched while it is plugged in, nor soon after."),
    ),
    "lithium_cell": (
        msg("This model holds a lithium cell"),
        msg(
            "take it out, or stay with it. A cell that is swollen, damaged, hot or smells must not "
            "be powered."
        ),
    ),
    "disk": (
        msg("This model holds a disk"),
        msg("hard power cuts wear it; keep them few and its data backed up."),
    ),
}
"""What is the case by a key of the model sheet, and what follows: also where it is not said."""


def cautions(sheets: Sequence[ModelSheet]) -> list[Message]:
    """Return the cautions for these models, each a line (after the guidance of fire services and
    of the Health and Safety Executive, HSG107 and INDG236).
    """
    lines = list(_ALWAYS)
    for key, (what, follows) in _OF_MODEL.items():
        texts = [getattr(sheet, key) for sheet in sheets]
        if any(texts):
            lines.append(joined(": ", [what, follows]))
        elif None in texts:
            lines.append(
                msg("{what}, as far as its sheet says: {follows}", what=what, follows=follows)
            )
    return [msg("CAUTION  {caution}", caution=line) for line in lines]
