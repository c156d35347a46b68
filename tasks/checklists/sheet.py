"""What the rules of a checklist are given: the plan in the words of the floor. Pure records."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256

# Waits around phantom: 10 s after on, 60 s after off before a ribbon's line is touched. Common practice.
ON_WAIT_SECONDS = 10
OFF_WAIT_SECONDS = 60


class Stage(StrEnum):
    SETUP = "setup"
    PHANTOM = "phantom"
    LINE_CHECK = "line_check"
    BREAKDOWN = "breakdown"


@dataclass(frozen=True, slots=True)
class SheetInsert:
    """What stands between preamp and recorder. fetch: where it is kept, empty where it stands in the room."""

    unit: str
    channel: int
    fetch: str = ""
    valves: bool = False
    settings: tuple[tuple[str, str], ...] = ()
    says: str = ""

    @property
    def where(self) -> str:
        return f"{self.unit} channel {self.channel}"


@dataclass(frozen=True, slots=True)
class SheetInput:
    """One input to set up. Distances in cm, high_pass_hz 0 for none, drain_seconds of its preamp.

    reach: the phantom switch that its preamp channel hangs on, in words; empty without a preamp. cable: the kind that
    it takes, empty where none is counted; patched: it reaches its preamp through a patch point. pair: how the pair
    that it begins is set up, empty for any other.
    """

    number: int
    label: str
    pickup: str
    unit: str
    unit_kind: str
    fetch: str
    stand: str
    line: int
    preamp: str
    channel: int
    recorder_input: int
    phantom: bool
    never_phantom: bool
    own_supply: bool
    pad: bool
    reach: str = ""
    drain_seconds: int = 0
    position: str = ""
    distance_cm: tuple[float, float] | None = None
    high_pass_hz: float = 0
    gain_db: float | None = None
    cautions: tuple[str, ...] = ()
    inserts: tuple[SheetInsert, ...] = ()
    cable: str = ""
    patched: bool = False
    pair: str = ""


@dataclass(frozen=True, slots=True)
class SheetMains:
    """What the room's circuit has to carry: watts, volts, amperes. unknown: how many things aren't counted in it."""

    power_w: float
    mains_v: float
    circuit_a: float
    share: float
    too_much: bool
    unknown: int = 0


@dataclass(frozen=True, slots=True)
class SheetCue:
    """One player's headphones; mix is empty for none. fetch: place and tag of what has to be brought."""

    player: str
    mix: str
    output: str
    phones: str
    fetch: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """A session as its checklist sees it."""

    room: str
    inputs: tuple[SheetInput, ...]
    unfilled: tuple[str, ...] = ()
    cues: tuple[SheetCue, ...] = ()
    mains: SheetMains | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a checklist. key is the same after re-planning as long as the work is the same."""

    key: str
    stage: Stage
    title: str
    minutes: int
    details: tuple[tuple[str, str], ...] = ()
    caution: str = ""
    input_number: int | None = None


def key(work: str, *about: object) -> str:
    """Names work by what it is done to, so that the same work has the same key in the next plan."""
    return f"{work}-{sha256(repr(about).encode()).hexdigest()[:16]}"


def numbers_in_words(numbers: Iterable[int]) -> str:
    """1, 2, 3, 6 is “1–3, 6”."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)
