"""Gather what is wrong with a file, so that all of it is told in one go."""

import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from soak.allowed import Kind, allowed, keys_of, show
from soak.errors import FileError, Mistake, told_of
from soak.words import Message, joined, msg

S = TypeVar("S", bound=BaseModel)
Fit = Callable[[Any], Iterable[Mistake]]
Place = tuple[int | str, ...]
"""Keys and numbers that lead to a place, from the table that was checked."""


_MISSING = "is missing"


class Unfitting(ValueError):
    """Report keys that are right each, but do not go together."""

    def __init__(self, mistakes: Sequence[Mistake]) -> None:
        self.mistakes = mistakes
        super().__init__(mistakes[0].what)


F = TypeVar("F", bound=Fit)


def fit(method: F) -> F:
    """Mark a method of settings that yields each `Mistake` of keys that do not go together.

    Its keys count from its table; empty: the table. It is asked even where other keys of the table
    are wrong, so it must yield nothing that hangs on anything but the keys it reads.
    """
    method.__dict__["is_fit"] = True
    return method


def unfitting(settings: BaseModel) -> Iterator[Mistake]:
    """Yield what does not go together; what cannot be asked, for a key is wrong, is left out."""
    for base in type(settings).__mro__:
        for thing in vars(base).values():
            if getattr(thing, "is_fit", False):
                try:
                    yield from thing(settings)
                except AttributeError:
                    if settings.__dict__.keys() == type(settings).model_fields.keys():
                        raise


class Mistakes:
    """What is wrong with one file.

    Parameters
    ----------
    file : str
        As the operator named it.
    error : type of FileError
        What is raised when all is told.
    """

    def __init__(self, file: str, error: type[FileError]) -> None:
        self.file = file
        self._error = error
        self._found: list[Mistake] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, key: str, what: Message, nearest: str = "") -> None:
        """Take in one; `FileError` says what the words mean."""
        self._found.append(Mistake(key, what, nearest))

    @contextmanager
    def gathered(self) -> Iterator[None]:
        """Take in what is raised within; a key that is not there for it is wrong was told."""
        try:
            yield
        except FileError as fault:
            # A check knows its stretch, not the file that it comes from.
            at = "" if fault.file == self.file else fault.file
            self._found += [_under(at, mistake) for mistake in fault.mistakes]
        except AttributeError:
            if not self._found:
                raise

    def tell(self) -> None:
        """Raise all that was found.

        Raises
        ------
        FileError
            Of the given kind, if there is anything.
        """
        if self._found:
            raise self._error.of(self.file, list(dict.fromkeys(self._found)))

    def checked(self, model: type[S], data: object, at: str = "") -> S:
        """Check a table; take in all its mistakes.

        Returns
        -------
        BaseModel
            The settings. Where something is wrong they lack it, and to read it is an
            AttributeError: good only to look for further mistakes, within `gathered`.
        """
        try:
            return model.model_validate(data)
        except ValidationError as fault:
            kind = Kind(model)
            wrong = []
            mistakes = []
            for entry in fault.errors(include_url=False):
                place = tuple(_steps(entry["loc"], data))
                wrong.append(place)
                mistakes += _told(kind, {**entry, "input": _written(data, place)}, place, at)
            self._found += _without_misspelt(mistakes)
            rest: S = self._rest(kind, data, wrong, at)
            return rest

    def _rest(self, kind: Kind, value: Any, wrong: Sequence[Place], at: str) -> Any:
        """Return what is right of a value, and take in what of that does not go together."""
        if not wrong:
            held: Any = Annotated[(kind.of, kind.name, *kind.marks)]
            return TypeAdapter(held).validate_python(value)
        if kind.table is not None:
            return self._rest_of_table(kind.table, value, wrong, at)
        return dict(self._parts(kind, value, wrong, at))

    def _parts(
        self, kind: Kind, values: Mapping[Any, Any], wrong: Sequence[Place], at: str
    ) -> Iterator[tuple[Any, Any]]:
        for step, value in values.items():
            below = [place[1:] for place in wrong if place and place[0] == step]
            inner = kind.at(step)
            if inner is not None and _can_stay(inner, below):
                yield step, self._rest(inner, value, below, path_of(at, [step]))

    def _rest_of_table(
        self, table: type[BaseModel], value: Any, wrong: Sequence[Place], at: str
    ) -> BaseModel:
        values = value if isinstance(value, dict) else {}
        right = dict(self._parts(Kind(table), values, wrong, at))
        made = table.model_construct(**right)
        for name in [name for name in table.model_fields if name in values and name not in right]:
            made.__dict__.pop(name, None)
        if () not in wrong:  # else it was asked already, or is no table
            for mistake in unfitting(made):
                self._found.append(_under(at, mistake))
        return made


def nearest_name(name: str, known: Sequence[str]) -> str:
    """Return the known name closest to `name`, or an empty text if none is close."""
    return next(iter(difflib.get_close_matches(name, known, n=1, cutoff=0.6)), "")


def path_of(at: str, steps: Iterable[int | str]) -> str:
    """Return a path of keys as an operator reads it: numbers count from 1."""
    path = at
    for step in steps:
        if isinstance(step, int):
            path += f"[{step + 1}]"
        else:
            path += f".{step}" if path else str(step)
    return path


def _can_stay(kind: Kind, wrong: Sequence[Place]) -> bool:
    """Tell whether a value may be looked at further: a table without what is wrong, no list."""
    return not wrong or kind.table is not None or (kind.named and () not in wrong)


def _written(data: Any, place: Place) -> Any:
    """Return what the file says in a place, before anything was made of it; None if nothing."""
    for step in place:
        try:
            data = data[step]
        except (TypeError, LookupError):
            return None
    return data


def _steps(loc: Place, data: Any) -> Iterator[int | str]:
    """Yield the steps of a place without pydantic's own tags; a key may look like one."""
    for step in loc:
        is_key = isinstance(data, dict) and step in data
        if is_key or not _is_tag(step):
            yield step
            data = _written(data, (step,))


def _is_tag(step: int | str) -> bool:
    return isinstance(step, str) and ("[" in step or step.startswith("function-"))


def _under(at: str, one: Mistake) -> Mistake:
    return Mistake(".".join(filter(None, [at, one.key])), one.what, one.nearest)


def _told(kind: Kind, entry: Any, place: Place, at: str) -> list[Mistake]:
    """Return what pydantic found in one place, in our words."""
    error = entry.get("ctx", {}).get("error")
    if isinstance(error, Unfitting):
        return [_under(path_of(at, place), mistake) for mistake in error.mistakes]
    within: Kind | None = kind
    for step in place[:-1]:
        within = within and within.at(step)
    here = within.at(place[-1]) if within and place else within
    key = path_of(at, place)
    if entry["type"] == "extra_forbidden" and within is not None and within.table is not None:
        return [_no_such(key, str(place[-1]), list(keys_of(within.table)))]
    if entry["loc"][-1:] == ("[key]",) and within is not None:
        return [_wrong_name(key, str(place[-1]), within.key())]
    return [_wrong(key, here, entry, error)]


def _no_such(key: str, name: str, known: Sequence[str]) -> Mistake:
    what = msg("there is no such key; the keys here are {known}", known=joined(", ", known))
    return Mistake(key, what, nearest_name(name, known))


def _without_misspelt(told: Sequence[Mistake]) -> list[Mistake]:
    """Leave out what is missing only because its key was misspelt: that is one mistake."""
    meant = {
        path_of(mistake.key.rpartition(".")[0], [mistake.nearest])
        for mistake in told
        if mistake.nearest
    }
    return [
        mistake
        for mistake in told
        if not (mistake.key in meant and mistake.what.startswith(_MISSING))
    ]


def _wrong_name(key: str, name: str, kind: Kind) -> Mistake:
    if kind.words():
        return _no_such(key, name, kind.words())
    return Mistake(key, no_name(allowed(kind)))


def no_name(takes: Message) -> Message:
    """Say that something has a name that it cannot have, and what it may be."""
    return msg("is no name that can be given; write {kind}", kind=takes)


def _wrong(key: str, kind: Kind | None, entry: Any, error: ValueError | None) -> Mistake:
    takes = None if kind is None else allowed(kind)
    value = entry["input"]
    if entry["type"] == "missing":
        return Mistake(
            key,
            (msg("is missing; write {takes}", takes=takes) if takes else msg("is missing; add it")),
        )
    if error is not None:
        own = told_of(error)
        if repr(value) not in own:
            own = msg("is {value}: {why}", value=show(value), why=own)
        if takes and any(word in takes for word in (" from ", " above ", " to ")):
            own = msg("{why}; it takes {takes}", why=own, takes=takes)
        return Mistake(key, own)
    shown = msg("is empty") if value == "" else msg("is {value}", value=show(value))
    words = [word for word in kind.words() if isinstance(word, str)] if kind is not None else []
    nearest = nearest_name(value, words) if isinstance(value, str) else ""
    if takes:
        return Mistake(key, msg("{shown}; write {takes}", shown=shown, takes=takes), nearest)
    return Mistake(key, joined(": ", [shown, entry["msg"]]), nearest)
