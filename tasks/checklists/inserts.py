"""Lines for what is inserted between preamp and recorder: warm up, fetch, patch, set, and afterwards put back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise

from tasks.checklists import cautions
from tasks.checklists.sheet import Line, SheetInput, SheetInsert, Stage, key


def all_of(inputs: Iterable[SheetInput]) -> list[SheetInsert]:
    return [insert for each in inputs for insert in each.inserts]


def valve_units(inputs: Iterable[SheetInput]) -> list[str]:
    return sorted({insert.unit for insert in all_of(inputs) if insert.valves})


def spots(each: SheetInput) -> tuple[tuple[str, int], ...]:
    return tuple((insert.unit, insert.channel) for insert in each.inserts)


def through(each: SheetInput) -> str:
    """“through Scale channel 1, Bar channel 2, ” or nothing."""
    return f"through {', '.join(insert.where for insert in each.inserts)}, " if each.inserts else ""


def warm_up(inputs: tuple[SheetInput, ...]) -> Iterator[Line]:
    units = valve_units(inputs)
    if units:
        yield Line(
            key("warm-inserts", *units),
            Stage.SETUP,
            f"Switch on and warm up {', '.join(units)}"[:160],
            2,
            (("Needs", "15 to 20 minutes before it is set"), ("First", "its output turned down")),
            f"{cautions.VALVE} {cautions.MAINS}",
        )


def fetch(inputs: tuple[SheetInput, ...]) -> Iterator[Line]:
    """What doesn't stand in the room, one walk to each place."""
    for place, tags, valves in _by_place(inputs):
        yield Line(
            key("fetch-inserts", place, *tags),
            Stage.SETUP,
            f"Fetch {', '.join(tags)} from {place}"[:160],
            3 + 2 * len(tags),
            (("Fetch", ", ".join(tags)), ("With", "its mains lead and patch leads")),
            f"{cautions.LIFT} {cautions.MAINS}" + (f" {cautions.VALVE}" if valves else ""),
        )


def patch_and_set(inputs: tuple[SheetInput, ...]) -> Iterator[Line]:
    for each in inputs:
        if each.inserts:
            yield _patch(each)
            yield _set(each)


def put_back(inputs: tuple[SheetInput, ...]) -> Iterator[Line]:
    units = sorted({insert.unit for insert in all_of(inputs)})
    if not units:
        return
    valves = valve_units(inputs)
    yield Line(
        key("end-inserts", *units),
        Stage.BREAKDOWN,
        f"Settings of {', '.join(units)} noted, then to neutral, patch out"[:160],
        2 + len(units),
        (),
        cautions.HEARING,
    )
    for place, tags, _ in _by_place(inputs):
        yield Line(
            key("back-inserts", place, *tags),
            Stage.BREAKDOWN,
            f"Bring {', '.join(tags)} back to {place}"[:160],
            3 + 2 * len(tags),
            (("Bring back", ", ".join(tags)),),
            f"{cautions.LIFT} {cautions.VALVE}" if {*tags} & {*valves} else cautions.LIFT,
        )


def _by_place(inputs: tuple[SheetInput, ...]) -> Iterator[tuple[str, list[str], bool]]:
    away = sorted({(i.fetch, i.unit, i.valves) for i in all_of(inputs) if i.fetch})
    for place, group in groupby(away, key=lambda each: each[0]):
        units = list(group)
        yield place, [tag for _, tag, _ in units], any(valves for *_, valves in units)


def _patch(each: SheetInput) -> Line:
    stations = [
        f"{each.preamp} channel {each.channel}" if each.preamp else f"line {each.line}",
        *(insert.where for insert in each.inserts),
        f"recorder input {each.recorder_input}",
    ]
    return Line(
        key("patch-inserts", each.label, stations),
        Stage.SETUP,
        f"{each.label}: patch {', '.join(insert.where for insert in each.inserts)}"[:160],
        1 + len(each.inserts),
        tuple((f"From {one}", f"to {other}") for one, other in pairwise(stations)),
        f"{cautions.HEARING} {cautions.TRIP}",
        each.number,
    )


def _set(each: SheetInput) -> Line:
    details = [
        (insert.where, "; ".join([*(f"{what.lower()} {to}" for what, to in insert.settings), insert.says]))
        for insert in each.inserts
    ]
    valves = [insert for insert in each.inserts if insert.valves]
    return Line(
        key("set-inserts", each.label, spots(each), [insert.settings for insert in each.inserts]),
        Stage.SETUP,
        f"{each.label}: set {', '.join(insert.where for insert in each.inserts)}, then by ear"[:160],
        2 * len(each.inserts),
        tuple((where, said.removesuffix("; ")) for where, said in details),
        f"{cautions.VALVE} {cautions.MAINS}" if valves else "",
        each.number,
    )
