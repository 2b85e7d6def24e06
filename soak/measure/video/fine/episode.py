"""One kind of fine fault in time: where it begins, how long it holds, where it ends."""

from collections.abc import Iterator

from soak.marks import PictureSaid, state_of
from soak.measure.video.intake import Arrived
from soak.records import State

CLEAN = "clean"


class Episode:
    """Turns bad and clean pictures of one kind into states; short clean gaps are bridged.

    Parameters
    ----------
    source : str
        Source of the states.
    kind : str
        The bad state.
    bridges : int
        So many clean pictures in a row end it; the end is back-dated to the first of them.
    """

    def __init__(self, source: str, kind: str, bridges: int) -> None:
        self.source = source
        self.kind = kind
        self._bridges = bridges
        self.active = False
        self._clean: tuple[float, float] | None = None
        self._clean_for = self.pictures = 0
        self._amount = 0.0
        self._said_first = False

    def see(
        self, arrived: Arrived, bad: bool, amount: float = 0.0, since: Arrived | None = None
    ) -> Iterator[State]:
        """Take one picture; yield what begins with it or with an earlier one.

        Parameters
        ----------
        since : Arrived or None
            The first picture that was bad, where only this one tells; one that is clean itself
            ends what began there.
        """
        yield from self._first(arrived.t_s)
        if bad:
            self._clean = None
            self._clean_for = 0
            self.pictures += 1
            self._amount += amount
            if not self.active:
                self.active = True
                self.pictures = 1
                self._amount = amount
                yield self._beginning(since or arrived, amount)
        elif since is not None and not self.active:
            self.pictures = 1
            self._amount = amount
            self.active = True
            self._clean = (arrived.t_s, arrived.gap_s)
            yield self._beginning(since, amount)
            yield from self.end(arrived.t_s)
        elif self.active:
            self._clean = self._clean or (arrived.t_s, arrived.gap_s)
            self._clean_for += 1
            if self._clean_for >= self._bridges:
                yield from self.end(arrived.t_s)

    def end(self, t_s: float) -> Iterator[State]:
        """End it now: the picture is gone, or clean for long enough."""
        if not self.active:
            return
        at_s, within_s = self._clean or (t_s, 0.0)
        self.active = False
        self._clean = None
        self._clean_for = 0
        said = PictureSaid(pictures=self.pictures, amount=self._amount)
        yield state_of(at_s, self.source, CLEAN, said, within_s=within_s)

    def _beginning(self, arrived: Arrived, amount: float) -> State:
        said = PictureSaid(amount=amount)
        return state_of(arrived.t_s, self.source, self.kind, said, within_s=arrived.gap_s)

    def _first(self, t_s: float) -> Iterator[State]:
        if not self._said_first:
            self._said_first = True
            yield State(t_s, self.source, CLEAN)
