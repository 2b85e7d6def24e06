"""The voltages that a switch may feed a unit with: those of the model sheet."""

from soak.errors import FixtureError
from soak.frozen.sheet import ModelSheet
from soak.frozen.wiring import Rated, SettableSwitch, SwitchWired
from soak.words import Number, msg


def with_rated(switch: SwitchWired, sheet: ModelSheet | None, file: str) -> SwitchWired:
    """Return the switch as it is, or, where it sets the voltage, told the model's rated voltages.

    Raises
    ------
    FixtureError
        If the fixture file itself gives them, the model sheet does not, or the supply is too
        inaccurate to be set between them.
    """
    if not isinstance(switch, SettableSwitch):
        return switch
    if switch.rated is not None:
        what = msg(
            "is not written here; write the rated voltages under [supply] in the model sheet"
        )
        raise FixtureError(file, "switch.rated", what)
    if sheet is None or not switch.sets_voltage:
        return switch
    if sheet.supply is None:
        what = msg(
            "the model sheet of {model} gives no rated supply; add [supply] with lowest_v, "
            "nominal_v and highest_v there, or set the voltage by hand",
            model=sheet.model,
        )
        raise FixtureError(file, "switch.sets_voltage", what)
    low_v, high_v = sheet.supply.tried_v(switch.accuracy_v)
    if not low_v <= sheet.supply.nominal_v <= high_v:
        what = msg(
            "{accuracy_v} V is wider than the room between nominal and rated limits of "
            "{model}; use a better supply, or set the voltage by hand",
            accuracy_v=Number(switch.accuracy_v, "g"),
            model=sheet.model,
        )
        raise FixtureError(file, "switch.accuracy_v", what)
    rated = Rated(**{key: getattr(sheet.supply, key) for key in Rated.model_fields})
    return switch.model_copy(update={"rated": rated})
