"""What condition, notes and place complain of: each complaint is a question that names unit and channel."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from studio.importing.desk import Desk, Said, Thing
from studio.importing.heading_words import IGNORED
from studio.importing.remarks import (
    Read,
    Remark,
    State,
    is_fine,
    names_one_of,
    read_fault,
    read_remarks,
    section_says,
)
from studio.importing.words import begins_with, fold, words

READ = {
    "tag", "kind", "maker", "model", "serial", "quantity", "place", "site", "owner", "bought", "value", "currency",
    "condition", "notes", "kept", "lent", "channels", "phantom",
}  # fmt: skip
BRACKETS = re.compile(r"\s*\(([^()]+)\)\s*$")
NO_YEAR = re.compile(
    r"\b(?:since|seit|depuis|desde|da|dal|sinds)\s+"
    r"(?:\d{1,2}[./]\d{1,2}\.?(?!\d|[./]\d)|\d{1,2}\.? [^\W\d_]+(?! \d)|[^\W\d_]+$)",
    re.IGNORECASE,
)
ASK_FAULT = (("report", "report it as a fault"), ("remark", "keep it as a remark only"))


def with_remarks(desk: Desk, thing: Thing) -> Thing:
    """Condition and notes: what they complain of becomes a question for each, naming unit and channel."""
    conditions = [text for text in desk.cells("condition") if text]
    ticked = dict(_ticked(desk))
    conditions = [text for text in conditions if text not in ticked]
    lent = [f"lent to {text}" for text in desk.cells("lent") if text and fold(text) not in words("own")]
    told = [*conditions, *desk.cells("notes"), *lent, complaint(desk)]
    texts = [text for text in told if text and not is_fine(text)]
    read = [read_remarks(text, thing.kind.name) for text in texts]
    thing = replace(
        thing,
        state=thing.state
        or _state(desk, read, fine=any(map(is_fine, conditions)) or None in ticked.values()),
        phantom=_phantom(desk, read, thing),
    )
    wrong = [fault for fault in ticked.values() if fault]
    if wrong and not any(each.faults for each in read):
        read.append(Read(tuple(wrong)))
    kept = [*(fault.words for fault in wrong), *texts]
    return replace(thing, faults=_faults(desk, thing, read), remarks=_remarks(desk, kept))


def _ticked(desk: Desk) -> Iterator[tuple[str, Remark | None]]:
    """Cells that say no more than yes, no or “?” of “Works?” or “Defect”, with the fault that they mean, if any."""
    for column in desk.columns:
        cell, heading = desk.row.cell(column.index), fold(column.heading)
        wrong = heading in words("asks_if_wrong")
        if column.field != "condition" or not cell or not (wrong or heading in words("asks_if_fine")):
            continue
        said = f"{column.heading.rstrip(' ?')}: {cell}"
        if fold(cell) in words("yes" if wrong else "no"):
            yield cell, Remark(said, "other" if wrong else "dead", State.SUSPECTED if wrong else State.OUT)
        elif not cell.strip("? "):
            yield cell, Remark(said, "other", State.SUSPECTED)
        elif fold(cell) in words("no" if wrong else "yes"):
            yield cell, None


def _faults(desk: Desk, thing: Thing, read: list[Read]) -> tuple[Said, ...]:
    found = [
        fault for each in read for fault in each.faults if fault.state is not State.RETIRED or fault.some
    ]
    on_bench = any(
        begins_with(text, words("bench")) for text in (desk.cell("place"), *desk.cells("condition"))
    )
    if on_bench and not found:
        desk.ask(f"{thing.label(0)} is on the bench: what is wrong with it?")
    found += _of_the_row(desk, thing, found)
    return tuple(_asked_fault(desk, thing, number, fault, on_bench) for number, fault in enumerate(found, 1))


def _of_the_row(desk: Desk, thing: Thing, found: list[Remark]) -> list[Remark]:
    """What isn't in the remarks: the heading above says that it is broken or missing, the place that it is out."""
    section = section_says(desk.section)
    if section == "faulty" and not found:
        return [Remark(desk.section, "other", State.OUT)]
    if section == "missing" and all(fault.state is not State.MISSING for fault in found):
        return [Remark(desk.section, "missing", State.MISSING)]
    place = desk.cell("place")
    if fold(place) in words("not_a_room") and all(fault.state is not State.AWAY for fault in found):
        return [Remark(f"{desk.heading('place')}: {place}", "lent", State.AWAY)]
    return []


def _remarks(desk: Desk, texts: list[str]) -> tuple[str, ...]:
    """What the row says beyond its fields: nothing is lost."""
    said = [text for text in texts if fold(text) not in words("section.retired")]
    said += [text for text in desk.cells("kept") if text] + desk.kept
    for column in desk.columns:
        text = desk.row.cell(column.index)
        if text and column.field not in READ and column.field != IGNORED:
            said.append(f"{column.heading}: {text}")
    return tuple(" / ".join(text.splitlines()) for text in said)


def complaint(desk: Desk) -> str:
    """What brackets behind the model complain of: “Keyboard (two keys stick)”."""
    match = BRACKETS.search(desk.cell("model") or desk.cell("kind"))
    return match[1] if match and read_fault(match[1]) else ""


def _state(desk: Desk, read: list[Read], fine: bool) -> str:
    section = section_says(desk.section)
    states = {remark.state for each in read for remark in each.faults if not remark.some}
    if State.RETIRED in states:
        return "retired"
    if section == "retired":
        if fine:
            desk.ask(
                f"It is said to be fine, but stands under “{desk.section}”. Is it in use? Taken as in use."
            )
        return "" if fine else "retired"
    if State.MISSING in states or section == "missing":
        return "missing"
    return "away" if State.AWAY in states else ""


def _phantom(desk: Desk, read: list[Read], thing: Thing) -> str:
    said = fold(desk.cell("phantom"))
    if said in words("phantom.must_not") or any(each.ban for each in read):
        return "must_not"
    if said in words("phantom.needs") or (
        thing.kind.name in {"microphone", "di"} and any(each.needs for each in read)
    ):
        return "needs"
    if said in words("phantom.indifferent"):
        return "indifferent"
    for each in read:
        if each.doubt:
            options = (
                ("must_not", "it must not have phantom"),
                ("needs", "it needs phantom"),
                ("remark", "a remark only"),
            )
            answer = desk.ask(
                f"{thing.label(0)}: “{each.doubt}”. What does that say of phantom?", "phantom", options
            )
            return answer if answer != "remark" else ""
    return ""


def _asked_fault(desk: Desk, thing: Thing, number: int, remark: Remark, on_bench: bool) -> Said:
    pieces = thing.pieces or 1
    named = names_one_of(remark.words, [*thing.tags, *thing.serials])
    of = tuple(
        i
        for i in range(pieces)
        if any(name in named for names in (thing.tags, thing.serials) for name in names[i : i + 1])
    )
    of = of or ((0,) if pieces == 1 and not thing.stock else ())
    said = Said(f"row {thing.row}: fault {number}", remark, of, on_bench)
    state = "on the bench" if on_bench and remark.state in {State.OUT, State.SUSPECTED} else str(remark.state)
    year = " Since when is not clear: the year isn't said." if NO_YEAR.search(remark.words) else ""
    if thing.stock:
        desk.ask(
            f"Of {pieces} {thing.model}: “{remark.words}” ({state}). How many can be used? {pieces} are counted.{year}",
            f"fault {number}",
            (("remark", "keep it as a remark"),),
        )
    elif of:
        names = " and ".join(thing.label(i) for i in of)
        desk.ask(
            f"{names}, {remark.where}: “{remark.words}” ({state}). Report it?{year}",
            f"fault {number}",
            ASK_FAULT,
        )
    else:
        which = tuple((str(i), thing.label(i)) for i in range(min(pieces, 40)))
        desk.ask(
            f"One or some of {pieces} {thing.model}, {remark.where}: “{remark.words}” ({state}). Which?{year}",
            f"fault {number}",
            (*which, ASK_FAULT[1]),
        )
    return said
