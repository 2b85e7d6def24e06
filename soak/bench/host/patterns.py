"""Files that a fixture names by a pattern: what changes from boot to boot is a `*`."""

from pathlib import Path


def fitting_files(pattern: str, root: Path = Path()) -> list[Path]:
    """Return the files that fit a pattern; a name without a sign of a pattern is itself.

    Parameters
    ----------
    root : Path
        Where absolute paths begin, if not at `/`.
    """
    path = Path(pattern)
    if path.is_absolute() and root != Path():
        path = root / path.relative_to(path.anchor)
    if not set("*?[") & set(pattern):
        return [path]
    return sorted(Path(path.anchor or ".").glob(str(path.relative_to(path.anchor))))
