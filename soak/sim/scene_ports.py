"""What a scene says of the ports of a unit: contacts, data, links, the 5 V of one."""

from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import Field

from soak.settings import Settings
from soak.sim.episodes import When

Dark = Literal["no signal", "black", "frozen", "protected output"]
"""What the capture gets while a video contact is open."""

Share = Annotated[float, Field(ge=0, le=1)]


class Contact(Settings):
    """The contact of one port: opens by itself (`opens`), and when the plug is moved.

    Attributes
    ----------
    opens : When
        When it opens by itself.
    moved_cold : float
        Share of hand movements that open it at ambient.
    moved_hot : float
        Share of hand movements that open it when the heat is full.
    moved_to : sequence of str
        Movements that can open it, such as `left`; empty: any.
    looks : str
        For a video port: what the capture gets while it is open.
    """

    opens: When = When()
    moved_cold: Share = 0.0
    moved_hot: Share = 0.0
    moved_to: Sequence[str] = ()
    looks: Dark = "no signal"


class Data(Settings):
    """The storage that the service port shows as a drive.

    Attributes
    ----------
    read_bytes_per_s : float
        Usual speed of reading, B/s.
    write_bytes_per_s : float
        Usual speed of writing, B/s.
    damage : When
        Episodes in which reads are damaged; `kind` says how.
    kind : str
        `flips`: single bits; `stale`: data of another place; `zeros`: a part is empty;
        `errors`: the read fails with EIO.
    falls_spot : str
        Spot by whose heat the link falls back; empty: it never does.
    falls_above_degc : float
        Above this heat it falls back until the unit is switched off, degC.
    fallen_bytes_per_s : float
        Speed once the link has fallen back, B/s.
    """

    read_bytes_per_s: float = Field(default=24e6, gt=0)
    write_bytes_per_s: float = Field(default=9e6, gt=0)
    damage: When = When()
    kind: Literal["flips", "stale", "zeros", "errors"] = "flips"
    falls_spot: str = ""
    falls_above_degc: float = 0.0
    fallen_bytes_per_s: float = Field(default=1.0e6, gt=0)


class Link(Settings):
    """The link of the service port.

    Attributes
    ----------
    speed_mbps : float
        Signalling rate, Mb/s.
    fallen_mbps : float
        Signalling rate where it has fallen back (`data.falls_spot` says when), Mb/s.
    plug_fails : float
        Share of plug-ins after which it does not come.
    plug_falls : float
        Share of plug-ins after which it comes fallen back.
    """

    speed_mbps: float = Field(default=480.0, gt=0)
    fallen_mbps: float = Field(default=12.0, gt=0)
    plug_fails: Share = 0.0
    plug_falls: Share = 0.0


class Network(Settings):
    """The network socket; what its contact does stands under `contacts`, as of any port.

    Attributes
    ----------
    port : str
        Its name in the model sheet.
    speed_mbps : float
        Speed that both ends agree on, Mb/s.
    fallen_mbps : float
        Speed where it has fallen back, Mb/s.
    falls_spot : str
        Spot whose heat makes the link fall back; empty: it never does.
    falls_above_degc : float
        Above this heat of that spot it falls back until the unit is switched off, degC.
    serves_bytes : int
        Size of the file that the unit serves; 0: none.
    damage : When
        Episodes in which what is fetched comes damaged.
    hangs : When
        Episodes in which nothing comes any more though the link stays.
    """

    port: str = "network"
    speed_mbps: float = Field(default=1000.0, gt=0)
    fallen_mbps: float = Field(default=100.0, gt=0)
    falls_spot: str = ""
    falls_above_degc: float = 0.0
    serves_bytes: int = Field(default=25_000_000, ge=0)
    damage: When = When()
    hangs: When = When()


class PortSupply(Settings):
    """The 5 V of the service port: V without load, and the resistance in ohm they come through.

    Attributes
    ----------
    open_v : float
        Voltage without load, V.
    ohm : float
        Resistance that the current comes through, ohm.
    """

    open_v: float = Field(default=5.06, gt=0, lt=30)
    ohm: float = Field(default=0.2, ge=0, lt=100)
