"""Tags and serials that come twice in a list: no row overwrites another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from studio.importing.desk import Thing
from studio.importing.quantities import bare_serial
from studio.importing.table import Finding
from studio.importing.words import fold


def apart(things: Iterable[Thing]) -> tuple[list[Thing], list[Finding], list[Finding]]:
    """The things to keep, the rows that only repeat another, and what is asked of tags and serials that are shared."""
    kept: list[Thing] = []
    skipped: list[Finding] = []
    asked: list[Finding] = []
    by_tag: dict[str, Thing] = {}
    by_serial: dict[tuple[str, str], Thing] = {}
    for thing in things:
        other = next((by_tag[tag.casefold()] for tag in thing.tags if tag.casefold() in by_tag), None)
        if other is not None and _same(thing, other):
            skipped.append(Finding(f"the same again as row {other.row}", thing.row))
            continue
        if other is not None:
            asked.append(_taken_tag(thing, other))
            thing = replace(
                thing, tags=(), remarks=(*thing.remarks, f"tag {', '.join(thing.tags)} in the list")
            )
        elif len(thing.tags) == 1 and (thing.pieces or 1) > 1:
            asked.append(_one_tag_for_several(thing))
            numbers = range(1, (thing.pieces or 1) + 1)
            thing = replace(thing, tags=tuple(f"{thing.tags[0]}-{number}" for number in numbers))
        asked += _shared_serials(thing, by_serial)
        by_tag.update({tag.casefold(): thing for tag in thing.tags})
        kept.append(thing)
    return kept, skipped, asked


def _same(thing: Thing, other: Thing) -> bool:
    return replace(thing, row=0, line=0, faults=()) == replace(other, row=0, line=0, faults=())


def _taken_tag(thing: Thing, other: Thing) -> Finding:
    what = (
        f"Tag {', '.join(thing.tags)} is taken by row {other.row} ({other.label(0)}). {thing.model} comes in with a "
        "tag of its own making until you say which is right."
    )
    return Finding(what, thing.row)


def _one_tag_for_several(thing: Thing) -> Finding:
    tag, pieces = thing.tags[0], thing.pieces
    return Finding(
        f"One tag, {tag}, for {pieces} of {thing.model}: they become {tag}-1 to {tag}-{pieces}. Right?",
        thing.row,
    )


def _shared_serials(thing: Thing, seen: dict[tuple[str, str], Thing]) -> list[Finding]:
    """Two units of one model with one serial are one thing written twice, or a mistake: asked, both kept."""
    found = []
    for serial in thing.serials:
        key = (fold(thing.model).replace(" ", ""), bare_serial(serial))
        if key in seen and seen[key] is not thing:
            first = seen[key].row
            what = f"Serial {serial} of {thing.model} stands in row {first} too. The same unit twice? Both come in."
            found.append(Finding(what, thing.row))
        seen.setdefault(key, thing)
    return found
