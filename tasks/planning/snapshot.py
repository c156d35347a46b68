"""What the planner is given and what it gives back: frozen records, no framework.

A snapshot holds only what is in service and free for the whole span; a fault that leaves part of a unit
usable is carried here as what still works. Levels are peak dB SPL, currents mA, waits seconds. A figure of None isn't
known and restricts nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Pickup(StrEnum):
    """How one input gets its signal."""

    MIC = "mic"
    DI = "di"
    LINE = "line"


class Phantom(StrEnum):
    """What a unit says about phantom power. Unknown is treated as must not."""

    NEEDS = "needs"
    MUST_NOT = "must_not"
    INDIFFERENT = "indifferent"
    UNKNOWN = "unknown"


class Switching(StrEnum):
    """How far one phantom switch of a preamp reaches."""

    PER_CHANNEL = "per_channel"
    PER_BANK = "per_bank"
    WHOLE_UNIT = "whole_unit"
    ALWAYS_ON = "always_on"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Liking:
    """What somebody wants for a source, best first, and what never: kinds, models or tags of units."""

    wanted: tuple[str, ...] = ()
    never: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Need:
    """One input that the session wants: one channel of one source.

    kinds: transducers (or "active di", "passive di") in order of liking, best first; anything else may only
    be used where nothing listed is left, and never where it could be harmed.
    pair: inputs that share a pair number are the two halves of one stereo source.
    patterns: any of these will do, where the unit can't take all of its own; empty for no matter which.
    priority: 1 lead part, 2 ordinary, 3 nice to have.
    wish: words of a wanted kind or model as the client wrote them; binding when wish_binds.
    own, house: what the session's engineer and what the house prefer for it.
    cable_m: metres of cable from it to the wall box, slack included; None for any length.
    had: the tag of the unit that it has had until now, to be kept where it can; set_up: that unit stands already.
    asked: something that the session asked for by its tag could serve.
    """

    number: int
    label: str
    source: str
    pickup: Pickup
    kinds: tuple[str, ...] = ()
    stand: str | None = None
    peak_spl_db: float | None = None
    priority: int = 2
    pair: int | None = None
    wish: str = ""
    wish_binds: bool = False
    patterns: tuple[str, ...] = ()
    cable_m: float | None = None
    own: Liking = Liking()
    house: Liking = Liking()
    had: str = ""
    set_up: bool = False
    asked: bool = False


@dataclass(frozen=True, slots=True)
class PickupUnit:
    """A microphone or DI box that works and is free. inputs: sources one box takes (a stereo DI takes 2).

    only_patterns: where one of its patterns is dead, those that are left; empty where all of them work.
    last_choice: to be used only where nothing else is left, such as what is back and not yet heard.
    gain_at_94_db: the gain in dB that it asks for where the peaks are 94 dB SPL, without its pad; None where not known.
    own_supply: a supply of its own, which takes one mains outlet.
    matched: a word that it shares with those it was matched with; empty for none.
    asked: the session asked for it by its tag.
    """

    tag: str
    model: str
    pickup: Pickup
    kind: str
    phantom: Phantom
    own_supply: bool = False
    current_ma: float | None = None
    max_spl_db: float | None = None
    pad_db: float = 0
    inputs: int = 1
    here: bool = True
    limits: tuple[str, ...] = ()
    value: int = 0
    only_patterns: tuple[str, ...] = ()
    last_choice: bool = False
    gain_at_94_db: float | None = None
    weight_kg: float | None = None
    matched: str = ""
    asked: bool = False


@dataclass(frozen=True, slots=True)
class PreampChannel:
    """One channel that passes signal and is free. phantom_works is false where only its phantom is dead.

    last_choice: as for a unit; also where it is noisy and nobody said above which gain.
    noisy_above_db: it can't serve what is known to ask for more gain; for what asks for an unknown gain it is a
    last choice. The two halves of a pair are set alike: to the gain of the quieter, unknown where one is.
    """

    number: int
    phantom_works: bool = True
    limits: tuple[str, ...] = ()
    last_choice: bool = False
    noisy_above_db: float | None = None


@dataclass(frozen=True, slots=True)
class PreampUnit:
    """A preamp with the channels of it that can be used.

    bank_size: channels per phantom switch when switching is per bank (channels 1..bank_size are bank 1).
    phantom_supply_ma: what one unit can give in all; None where not known.
    least_gain_db, most_gain_db: what can be set; pad_db: its own pad, which makes the least gain less by so much.
    here: the room's lines reach it by themselves; elsewise each input on it takes a patch point.
    """

    tag: str
    model: str
    channels: tuple[PreampChannel, ...]
    switching: Switching
    bank_size: int = 1
    drain_seconds: int = 0
    phantom_supply_ma: float | None = None
    here: bool = True
    least_gain_db: float | None = None
    most_gain_db: float | None = None
    pad_db: float = 0

    def bank_of(self, channel: int) -> int:
        """The number, from 1, of the phantom switch that feeds this channel."""
        if self.switching is Switching.PER_CHANNEL:
            return channel
        if self.switching is Switching.PER_BANK:
            return (channel - 1) // self.bank_size + 1
        return 1


@dataclass(frozen=True, slots=True)
class Missing:
    """A unit or channel that would have served but is out or taken: used to say what would help."""

    tag: str
    kind: str
    why: str


@dataclass(frozen=True, slots=True)
class StandFigures:
    """What a kind of stand carries, and how far its boom reaches; 0 for one without a boom."""

    load_kg: float | None = None
    reach_m: float | None = None


@dataclass(frozen=True, slots=True)
class CableKind:
    """Microphone cables of one length that are free. One whose length isn't known serves where any length does."""

    name: str
    count: int
    length_m: float | None = None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything the planner may use for one session. stands: kind to the number that is free.

    cables: None where the house counts none. patch_points, mains_outlets: None where not known.
    """

    needs: tuple[Need, ...]
    pickups: tuple[PickupUnit, ...]
    preamps: tuple[PreampUnit, ...]
    stands: dict[str, int] = field(default_factory=dict)
    lines: int = 0
    recorder_inputs: int = 0
    missing: tuple[Missing, ...] = ()
    stand_figures: dict[str, StandFigures] = field(default_factory=dict)
    cables: tuple[CableKind, ...] | None = None
    patch_points: int | None = None
    mains_outlets: int | None = None


@dataclass(frozen=True, slots=True)
class PlannedInput:
    """One input as it will be set up. preamp and channel are None for a line-level source.

    cable: the name of the kind that is taken, None where the house counts none. patched: through a patch point.
    """

    number: int
    label: str
    source: str
    pickup: Pickup
    unit: str | None
    unit_input: int | None
    preamp: str | None
    channel: int | None
    phantom: bool
    pad: bool
    stand: str | None
    line: int
    recorder_input: int
    why: tuple[str, ...]
    cable: str | None = None
    patched: bool = False


@dataclass(frozen=True, slots=True)
class Unfilled:
    """A need that could not be met: why, and what would help."""

    number: int
    label: str
    source: str
    reason: str
    help: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SolverReport:
    """status: proven, best found, or nothing to plan. bound and objective are costs; equal means proven."""

    status: str
    objective: float
    bound: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The input list, what is missing, and the phantom switches that must be on as (preamp tag, bank)."""

    inputs: tuple[PlannedInput, ...]
    unfilled: tuple[Unfilled, ...]
    phantom_on: frozenset[tuple[str, int]]
    solver: SolverReport
