"""A row of a repair log: something that happened to a unit. It makes no unit; it becomes a question that names one."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from studio.importing.columns import Conventions
from studio.importing.dates import read_date
from studio.importing.layout import Layout
from studio.importing.remarks import channels_in, effect_of, gain_in, is_fine, numbers_in, phantom
from studio.importing.rows import Sorted
from studio.importing.table import Finding, Row
from studio.importing.words import fold, found_in, words

OVER = {"closed", "retired"}
FIRST_LOOKED_FOR = ("back", "waiting", "away", "retired", "accepted", "closed", "open")
STANDS = {
    "open": "open",
    "waiting": "open, waiting for parts",
    "closed": "closed",
    "away": "away for repair",
    "back": "back, not yet heard",
    "retired": "closed, the unit is retired",
    "accepted": "open, accepted as it is",
    "note": "no fault: a service note",
    "": "not said",
}
ALIKE = 0.6
ASK = (("record", "record it"), ("leave", "leave it out"))


@dataclass(frozen=True, slots=True)
class Event:
    """seen and closed: ISO 8601 dates, empty if not known. state: a key of STANDS. doubts: what contradicts itself."""

    row: int
    unit: str
    fault: str
    effect: str
    state: str
    channels: tuple[int, ...] = ()
    part: str = ""
    seen: str = ""
    closed: str = ""
    who: str = ""
    done: str = ""
    cost: str = ""
    remark: str = ""
    doubts: tuple[str, ...] = ()
    like: int = 0
    above_gain_db: float | None = None

    @property
    def key(self) -> str:
        return f"row {self.row}: event"

    @property
    def where(self) -> str:
        if self.channels:
            return ("channel " if len(self.channels) == 1 else "channels ") + ", ".join(
                map(str, self.channels)
            )
        return self.part or "the whole unit"

    def question(self) -> Finding:
        said = f"“{self.fault}”" if self.fault else "no words"
        parts = [f"{self.unit}, {self.where}: {said}", STANDS[self.state]]
        parts += (
            [f"usable with limits, below {self.above_gain_db:g} dB of gain"] if self.above_gain_db else []
        )
        parts += [f"seen {self.seen}"] if self.seen else []
        parts += [f"closed {self.closed}"] if self.closed else []
        parts += [f"done: {self.done}"] if self.done else []
        parts += [f"cost: {self.cost}"] if self.cost else []
        parts += [self.remark] if self.remark else []
        parts += [f"the same as in row {self.like}, or come back"] if self.like else []
        doubts = f" But {' and '.join(self.doubts)}." if self.doubts else ""
        return Finding(f"{'; '.join(parts)}.{doubts} Record it?", self.row, key=self.key, options=ASK)


def read_events(rows: Sequence[Sorted], ways: Conventions) -> list[Event]:
    found: list[Event] = []
    for row in rows:
        event = _event(row.row, row.layout, ways)
        found.append(_linked(event, found))
    return found


def _event(row: Row, layout: Layout, ways: Conventions) -> Event:
    cells = {column.field: row.cell(column.index) for column in reversed(layout.columns)}
    fault, status = cells.get("fault", ""), cells.get("status", "")
    channels, part = _where(cells.get("channel", ""), fault)
    seen, closed = _date(row, layout, "seen", ways), _date(row, layout, "closed", ways)
    state = _state(status, fault, cells.get("done", ""), closed)
    other = {
        c.heading: row.cell(c.index)
        for c in layout.columns
        if c.field in {"other", "notes"} and row.cell(c.index)
    }
    remark = "; ".join(
        [f"status: {status}"] * bool(status) + [f"{heading}: {text}" for heading, text in other.items()]
    )
    event = Event(
        row=row.number,
        unit=cells.get("unit", "") or "(no unit named)",
        fault=" / ".join(fault.splitlines()),
        effect="no_phantom" if phantom(fault, "", True) == "fault" else effect_of(fault) or "other",
        state=state,
        channels=channels,
        part=part,
        seen=seen,
        closed=closed,
        who=cells.get("who", ""),
        done=" / ".join(cells.get("done", "").splitlines()),
        cost=cells.get("cost", ""),
        remark=remark,
        doubts=_doubts(cells, seen, closed, state),
        above_gain_db=gain_in(fault),
    )
    return event


def _where(cell: str, fault: str) -> tuple[tuple[int, ...], str]:
    """“1-4”, “9,10”, “2 & 6” and “ch 24” are channels; other words name a part; a dash, or all, is the whole unit."""
    if re.search(r"\d", cell) and (re.fullmatch(r"[\d\s,;&+/–.-]+", cell) or channels_in(cell)):
        return channels_in(cell) or tuple(numbers_in(cell)), ""
    if re.search(r"\d", cell) and re.fullmatch(
        r"[\d\s,;&+/–-]+(?:\s*(?:and|und|et|y|e|en|to|bis)\s*\d+)*", cell
    ):
        return tuple(numbers_in(cell)), ""
    if not re.search(r"\w", cell) or fold(cell) in words("for_all"):
        return channels_in(fault) if not cell else (), ""
    side = {"l": "left", "r": "right"}.get(fold(cell), cell)
    return (), side


def _date(row: Row, layout: Layout, name: str, ways: Conventions) -> str:
    index = layout.index(name)
    cell = row.cell(index)
    return (
        read_date(cell, ways.orders.get(index, ""), ways.this_year) or ""
        if cell and index is not None
        else ""
    )


def _state(status: str, fault: str, done: str, closed: str) -> str:
    found = next((name for name in FIRST_LOOKED_FOR if found_in(status, words(f"status.{name}"))), "")
    if fault and is_fine(fault.strip("“”„\"'")):
        return "note"
    if not found and closed:
        return "closed"
    return found or ("open" if fault else "")


def _doubts(cells: Mapping[str, str], seen: str, closed: str, state: str) -> tuple[str, ...]:
    found = []
    if cells.get("seen", "") and not seen:
        found.append(f"“{cells['seen']}” can't be read as a date")
    if not cells.get("seen", ""):
        found.append("its day isn't said")
    if cells.get("closed", "") and not closed:
        found.append(f"“{cells['closed']}” can't be read as a date")
    if seen and closed and closed < seen:
        found.append("it was closed before it was seen")
    if closed and state not in OVER and state != "note":
        found.append("it has a closing date and isn't closed")
    if not cells.get("fault", ""):
        found.append("nothing says what is wrong")
    return tuple(found)


def _linked(event: Event, earlier: Sequence[Event]) -> Event:
    """The row above it that tells of the same: unit, channel, and nearly the same words."""
    for other in reversed(earlier):
        same_place = (
            other.unit == event.unit and other.channels == event.channels and other.part == event.part
        )
        if (
            same_place
            and event.fault
            and SequenceMatcher(None, fold(other.fault), fold(event.fault)).ratio() > ALIKE
        ):
            return Event(
                **{name: getattr(event, name) for name in event.__slots__ if name != "like"}, like=other.row
            )
    return event
