"""What a script may say of the check `transfer`."""

from pydantic import Field

from soak.settings import Bytes, Seconds, Settings


class TransferSettings(Settings):
    """Settings of the check `transfer`; times in s, sizes in B.

    Attributes
    ----------
    size_bytes : int
        How much of the stick is used; 0: all that the fixture allows.
    chunk_bytes : int
        Data crosses in pieces of this size; about six of them lie in memory.
    write_budget_bytes : int
        So much is written in this stretch, then only read: writing wears a stick out.
    write_every_s : float
        Between two passes of writing only reading, so that the budget lasts.
    pause_s : float
        Pause after each chunk.
    rest_s : float
        Pause after each pass of reading.
    look_s : float
        In a pause, and while the stick is gone, it is looked for so often.
    readings_every_s : float
        Readings come at most so often; wrong bytes and stalls at once.
    stall_s : float
        No transfer may take longer.
    keep_speed : float
        Share of the first speed that reading must keep; 0 demands nothing, as in a stretch that
        only takes the first speed.
    least_bytes_per_s : int
        Speed at which reading must come in the median, written as `"25 MB"`; 0 demands nothing. It
        finds a link that was slow from the beginning.
    first_s : float
        The first speed is the median over so long, counted from the first transfer of the soak.
    damaged_bytes : int
        Wrong bytes allowed.
    whole : bool
        Fill the stick once, as far as there is room, and read it all back: a stick that holds less
        than it claims is found out. Must lie within `write_budget_bytes`.
    late_per_h : float
        Reads a retry made late that are allowed, per hour.
    drift : float
        Share of its speed that reading may lose slowly over the stretch.
    """

    size_bytes: Bytes = Field(default=0, ge=0)
    chunk_bytes: Bytes = Field(default=4 << 20, ge=4096, le=64 << 20, multiple_of=4096)
    write_budget_bytes: Bytes = Field(default=250_000_000, ge=4096)
    write_every_s: Seconds = Field(default=120.0, ge=0)
    pause_s: Seconds = Field(default=0.0, ge=0)
    rest_s: Seconds = Field(default=0.0, ge=0)
    look_s: Seconds = Field(default=0.5, gt=0)
    readings_every_s: Seconds = Field(default=1.0, ge=0)
    stall_s: Seconds = Field(default=5.0, gt=0)
    keep_speed: float = Field(default=0.6, ge=0, le=1)
    least_bytes_per_s: Bytes = Field(default=0, ge=0)
    first_s: Seconds = Field(default=300.0, gt=0)
    damaged_bytes: Bytes = Field(default=0, ge=0)
    whole: bool = False
    late_per_h: float = Field(default=6.0, ge=0)
    drift: float = Field(default=0.2, gt=0, le=1)
