"""The file of a model sheet: `fixtures/models/<name>.toml`."""

from pathlib import Path

from soak.errors import FixtureError
from soak.frozen.sheet import ModelSheet
from soak.settings import checked, read_toml
from soak.words import msg


def read_model_sheet(path: Path) -> ModelSheet:
    """Read a model sheet.

    Raises
    ------
    FixtureError
        If the file is missing, is not TOML, or holds an unknown key or an impossible value.
    """
    data = read_toml(path, FixtureError, msg("model sheet"))
    return checked(ModelSheet, data, str(path), FixtureError)
