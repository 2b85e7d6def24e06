"""For how long a picture has stood unchanged, as a reading, where no motion is promised."""

from collections.abc import Iterator

from soak.records import Reading

LEAST_S = 10.0
"""Shorter rests are not worth a reading, s. Own choice."""


class Unchanged:
    """Says it while a picture stands, and once more when it has moved again.

    Parameters
    ----------
    quantity : str
        Name of the reading; its value is in s.
    every_s : float
        It is said so often while the picture stands, s; 0: never.
    """

    def __init__(self, quantity: str, every_s: float) -> None:
        self._quantity = quantity
        self._every_s = every_s
        self._since_s: float | None = None
        self._last_s = self._said_s = 0.0

    def see(self, t_s: float, since_s: float | None) -> Iterator[Reading]:
        """Take the next picture, and since when it stands, s; None if it does not."""
        if since_s is None or since_s != self._since_s:
            yield from self.end()
            self._since_s = since_s
            self._said_s = t_s if since_s is None else since_s
        self._last_s = t_s
        if since_s is not None and self._every_s and t_s - self._said_s >= self._every_s:
            yield self._reading()

    def end(self) -> Iterator[Reading]:
        """Say how long it stood: it has moved, or is gone."""
        fresh = self._every_s > 0 and self._last_s > self._said_s
        if self._since_s is not None and fresh and self._last_s - self._since_s >= LEAST_S:
            yield self._reading()
        self._since_s = None

    def _reading(self) -> Reading:
        assert self._since_s is not None
        self._said_s = self._last_s
        return Reading(self._last_s, self._quantity, self._last_s - self._since_s)
