"""What the stage that gives out inserts is given and gives back: frozen records, no framework.

Ratios are to one, times ms, lifts dB at Hz. A chain runs from the preamp to the recorder; its places count from 1.
"""

from __future__ import annotations

from dataclasses import dataclass

from tasks.planning.snapshot import Missing

EQUALISER, COMPRESSOR, LIMITER = "equaliser", "compressor", "limiter"
KINDS = (EQUALISER, COMPRESSOR, LIMITER)
VARIABLE, FIXED = "variable", "fixed"
AUTOMATIC = "automatic"
Way = float | str | None


@dataclass(frozen=True, slots=True)
class InsertWish:
    """One insert that an input should have, and how to set it to begin with.

    attack, release: “automatic”, or how far from the slowest (0) to the fastest (1); None where nothing is said.
    reduction_db: least and most that the needle should show. says: what else whoever sets it should know.
    """

    name: str
    kind: str
    threshold: str = ""
    ratio: float | None = None
    valves: bool = False
    attack: Way = None
    release: Way = None
    reduction_db: tuple[float, float] | None = None
    lift_db: tuple[float, float] | None = None
    lift_hz: float = 0
    says: str = ""
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class ChainNeed:
    """A planned input and the inserts that it should have, in order.

    pair, priority: as for a planner's need; 0 for what was chosen by hand.
    before: for each place the unit and channel that it has had until now.
    """

    number: int
    label: str
    wishes: tuple[InsertWish, ...]
    priority: int = 2
    pair: int | None = None
    before: tuple[Spot | None, ...] = ()


@dataclass(frozen=True, slots=True)
class InsertChannel:
    """A channel that works and is free. last_choice: as for a planner's unit."""

    number: int
    limits: tuple[str, ...] = ()
    last_choice: bool = False


@dataclass(frozen=True, slots=True)
class InsertUnit:
    """An equaliser, compressor or limiter with the channels of it that can be used.

    linked: of dynamics, two neighbouring channels can be linked; of an equaliser, its channels are set together.
    ratios, attack_ms, release_ms: its steps, or the ends of what is set freely; empty where it has no such knob.
    kept: the room that it belongs to.
    """

    tag: str
    model: str
    kind: str
    channels: tuple[InsertChannel, ...]
    threshold: str = ""
    ratios: tuple[float, ...] = ()
    attack_ms: tuple[float, ...] = ()
    release_ms: tuple[float, ...] = ()
    automatic: bool = False
    bands: int = 0
    linked: bool = False
    valves: bool = False
    here: bool = True
    value: int = 0
    kept: str = ""


@dataclass(frozen=True, slots=True)
class ChainHouse:
    """elsewhere: what works and is free, but belongs to another room: it is asked for, never taken."""

    needs: tuple[ChainNeed, ...]
    units: tuple[InsertUnit, ...]
    missing: tuple[Missing, ...] = ()
    elsewhere: tuple[InsertUnit, ...] = ()


@dataclass(frozen=True, slots=True)
class Inserted:
    """place: where in the chain of the input, from 1. settings: control and what to set it to."""

    number: int
    label: str
    place: int
    wish: InsertWish
    unit: str
    channel: int
    settings: tuple[tuple[str, str], ...]
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Unmet:
    number: int
    label: str
    place: int
    wish: InsertWish
    reason: str
    help: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chains:
    """proven: nothing better can be had; cost and bound are the same then."""

    inserts: tuple[Inserted, ...]
    unmet: tuple[Unmet, ...]
    proven: bool = True
    cost: int = 0
    bound: int = 0


Spot = tuple[str, int]
