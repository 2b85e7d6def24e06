"""The unit's rated voltages, told to the supply that may be set to them."""

from soak.bench.model_sheet import ModelSheet
from soak.bench.wiring import Rated, SettableSwitch, SwitchWired
from soak.errors import FixtureError


def with_rated(
    switch: SwitchWired | None, sheet: ModelSheet | None, file: str
) -> SwitchWired | None:
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
        what = "is not written here; write the rated voltages under [supply] in the model sheet"
        raise FixtureError(file, "switch.rated", what)
    if sheet is None or not switch.sets_voltage:
        return switch
    if sheet.supply is None:
        what = (
            f"the model sheet of {sheet.model} gives no rated supply; add [supply] with "
            "lowest_v, nominal_v and highest_v there, or set the voltage by hand"
        )
        raise FixtureError(file, "switch.sets_voltage", what)
    low_v, high_v = sheet.supply.tried_v(switch.accuracy_v)
    if not low_v <= sheet.supply.nominal_v <= high_v:
        what = (
            f"{switch.accuracy_v:g} V is wider than the room between nominal and rated limits of "
            f"{sheet.model}; use a better supply, or set the voltage by hand"
        )
        raise FixtureError(file, "switch.accuracy_v", what)
    rated = Rated(**{key: getattr(sheet.supply, key) for key in Rated.model_fields})
    return switch.model_copy(update={"rated": rated})
