"""The papers of a session, as tables: input list, patch, what to fetch from where, stands and cables. Pure.

Each is made from the planned inputs as records, so that screen, print and CSV can't differ.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil

A_SPARE_FOR = 10  # one spare for each ten begun: common practice, no single source


@dataclass(frozen=True, slots=True)
class RowInsert:
    """What is inserted in one place of an input's chain. unit is a tag, empty while the wish is open.

    kept: where it has to be fetched from, empty where it stands in the room. says: what to know, or what is missing.
    """

    place: int
    name: str
    unit: str
    channel: int | None = None
    kept: str = ""
    settings: tuple[tuple[str, str], ...] = ()
    says: str = ""

    @property
    def where(self) -> str:
        channel = f" channel {self.channel}" if self.channel else ""
        return f"{self.unit}{channel}" if self.unit else f"{self.name}: open"


@dataclass(frozen=True, slots=True)
class Row:
    """One input as planned. unit and preamp are tags, empty for none; unit_place says where the unit is kept."""

    number: int
    label: str
    pickup: str
    unit: str
    unit_model: str
    unit_place: str
    unit_input: int | None
    stand: str
    line: int
    preamp: str
    preamp_channel: int | None
    preamp_place: str
    phantom: bool
    pad: bool
    recorder_input: int
    gain_db: float | None = None
    high_pass_hz: float = 0
    inserts: tuple[RowInsert, ...] = ()
    cable: str = ""

    @property
    def chain(self) -> str:
        """What is inserted, in order."""
        return ", then ".join(insert.where for insert in self.inserts) or "none"

    @property
    def taken_with(self) -> str:
        which = f" input {self.unit_input}" if self.unit_input and self.unit_input > 1 else ""
        return f"{self.unit} ({self.unit_model}){which}" if self.unit else "line output"

    @property
    def through(self) -> str:
        return f"{self.preamp} channel {self.preamp_channel}" if self.preamp else "no preamp, line level"


@dataclass(frozen=True, slots=True)
class Sheet:
    """name stands in the address and the file's name."""

    name: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def labelled(self) -> list[list[tuple[str, str]]]:
        """Each row as its headings with their cells."""
        return [list(zip(self.headings, row, strict=True)) for row in self.rows]


def input_list(rows: Sequence[Row]) -> Sheet:
    switches = ("Phantom", "Pad", "Gain", "High-pass")
    headings = ("Input", "Source", "With", "Stand", "Line", "Preamp", *switches, "Recorder", "Inserts")
    return Sheet("inputs", "Input list", headings, tuple(_input(row) for row in rows))


def _input(row: Row) -> tuple[str, ...]:
    return (
        str(row.number),
        row.label,
        row.taken_with,
        _stand(row) or "none",
        str(row.line),
        row.through,
        "on" if row.phantom else "off",
        "in" if row.pad else "out",
        "" if row.gain_db is None else f"{row.gain_db:g} dB",
        f"{row.high_pass_hz:g} Hz" if row.high_pass_hz else "off",
        str(row.recorder_input),
        row.chain,
    )


def patch_sheet(rows: Sequence[Row]) -> Sheet:
    """In the order of the wall box, as one patches: line, preamp, inserts in order, recorder."""
    headings = ("Line", "Preamp", "Inserts", "Recorder", "Source")
    by_line = sorted(rows, key=lambda row: row.line)
    lines = tuple(
        (str(r.line), r.through, r.chain, f"input {r.recorder_input}", f"{r.number} {r.label}")
        for r in by_line
    )
    return Sheet("patch", "Patch sheet", headings, lines)


def insert_sheet(rows: Sequence[Row]) -> Sheet:
    """Where to begin with the knobs of what is inserted."""
    headings = ("Input", "Place", "Unit", "Set", "To know")
    found = tuple(
        (
            f"{row.number} {row.label}",
            str(insert.place),
            insert.where,
            "; ".join(f"{what.lower()}: {to}" for what, to in insert.settings) or "nothing",
            insert.says,
        )
        for row in rows
        for insert in row.inserts
    )
    return Sheet("inserts", "Inserts, and where to begin", headings, found)


def pull_list(rows: Sequence[Row]) -> Sheet:
    """What to fetch, by the place where it is kept, and what it is for. What stands in the room already isn't on it."""
    uses: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for row in rows:
        if row.unit:
            uses[row.unit_place, row.unit, row.unit_model].append(f"{row.number} {row.label}")
        if row.preamp and row.preamp_place:
            uses[row.preamp_place, row.preamp, "preamp"].append(f"{row.number} {row.label}")
        for insert in row.inserts:
            if insert.kept:
                uses[insert.kept, insert.unit, "insert"].append(f"{row.number} {row.label}")
    found = tuple((*thing, ", ".join(of)) for thing, of in sorted(uses.items()))
    return Sheet("fetch", "What to fetch, by place", ("Place", "Unit", "What", "For"), found)


def counts(rows: Sequence[Row]) -> Sheet:
    """Stands by kind, a microphone cable for each input but those at line level, by length where they are counted,
    and spares to have at hand."""
    stands = Counter(stand for row in rows if (stand := _stand(row)))
    cables = Counter(row.cable for row in rows if row.pickup != "line")
    boxes = sum(row.pickup == "di" for row in rows)
    lines = sum(row.pickup == "line" for row in rows)
    needed = [
        *((f"stand, {name}", count) for name, count in sorted(stands.items())),
        *(
            (f"microphone cable, {name}" if name else "microphone cable", n)
            for name, n in sorted(cables.items())
        ),
        ("instrument lead, to a DI box", boxes),
        ("line cable", lines),
    ]
    found = tuple((what, str(count), str(ceil(count / A_SPARE_FOR))) for what, count in needed if count)
    return Sheet("counts", "Stands and cables", ("What", "Needed", "Spare"), found)


def _stand(row: Row) -> str:
    return "" if row.stand == "none" else row.stand


MAKERS: dict[str, Callable[[Sequence[Row]], Sheet]] = {
    "inputs": input_list,
    "patch": patch_sheet,
    "inserts": insert_sheet,
    "fetch": pull_list,
    "counts": counts,
}


def papers(rows: Sequence[Row]) -> list[Sheet]:
    return [make(rows) for make in MAKERS.values()]


def differences(before: Sequence[Sequence[str]], now: Sequence[Sequence[str]]) -> Iterator[str]:
    """What has changed between two input lists, rows of `input_list`, in sentences, source by source.

    A source is the same one when it has the same label; of several with one label, the first is the first.
    """
    old, new = _by_label(row for row in before if len(row) == len(NAMES)), _by_label(now)
    for key, row in new.items():
        if key not in old:
            yield f"New: {row[0]} {row[1]}, {row[2]}, line {row[4]}, {row[5]}, phantom {row[6]}."
        elif changed := list(_changed(old[key], row)):
            yield f"{row[0]} {row[1]}: {', '.join(changed)}."
    for key, row in old.items():
        if key not in new:
            yield f"No longer: {row[0]} {row[1]}."


def _by_label(rows: Iterable[Sequence[str]]) -> dict[tuple[str, int], Sequence[str]]:
    seen: Counter[str] = Counter()
    found = {}
    for row in rows:
        found[row[1], seen[row[1]]] = row
        seen[row[1]] += 1
    return found


NAMES = (
    *("input", "", "with", "stand", "line", "preamp", "phantom", "pad", "gain", "high-pass"),
    *("recorder input", "inserts"),
)
"""What the columns of an input list are called in a sentence."""


def _changed(old: Sequence[str], new: Sequence[str]) -> Iterator[str]:
    for name, before, after in zip(NAMES, old, new, strict=True):
        if before != after:
            yield f"{name} {after} instead of {before}"
