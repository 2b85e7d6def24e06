"""Cautions where they matter: before a unit runs alone."""

from collections.abc import Sequence

from soak.bench.model_sheet import ModelSheet

_ALWAYS = (
    "soak is not a safety device: its guard is a program and can fail like one.",
    "Mains work only by competent people: residual-current device (30 mA) on the bench supply, its "
    "test button pressed, earth checked, vents open, lithium cells out or somebody present, hot "
    "parts out of reach, laser drives closed, a smoke alarm in the room. Local codes and licensed "
    "practice come first.",
)
_OF_MODEL = {
    "mains": (
        "This model is fed with mains voltage",
        "nothing inside is to be touched while it is plugged in, nor soon after.",
    ),
    "lithium_cell": (
        "This model holds a lithium cell",
        "take it out, or stay with it. A cell that is swollen, damaged, hot or smells must not be "
        "powered.",
    ),
    "disk": (
        "This model holds a disk",
        "hard power cuts wear it; keep them few and its data backed up.",
    ),
}
"""What is the case by a key of the model sheet, and what follows: also where it is not said."""


def cautions(sheets: Sequence[ModelSheet]) -> list[str]:
    """Return the cautions for these models, each a line (after the guidance of fire services and
    of the Health and Safety Executive, HSG107 and INDG236).
    """
    lines = list(_ALWAYS)
    for key, (what, follows) in _OF_MODEL.items():
        told = [getattr(sheet, key) for sheet in sheets]
        if any(told):
            lines.append(f"{what}: {follows}")
        elif None in told:
            lines.append(f"{what}, as far as its sheet says: {follows}")
    return [f"CAUTION  {line}" for line in lines]
