"""A row of a list to the thing, or the several things, that it describes. What is asked stays out until answered."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from studio.importing.columns import Conventions
from studio.importing.complaints import BRACKETS, complaint, with_remarks
from studio.importing.desk import Desk, Thing, short
from studio.importing.figures import UNITS, read_figure
from studio.importing.kinds import Kind, kind_name, kind_names, read_kind, without_said
from studio.importing.quantities import (
    COUNT_PERHAPS,
    Quantity,
    parts_of,
    quantity_in_words,
    read_quantity,
    serials_in,
)
from studio.importing.remarks import section_says
from studio.importing.rows import Sorted, names_a_place
from studio.importing.table import Finding
from studio.importing.words import fold, found_in, words
from studio.importing.worth import bought, with_value

MOST_PIECES = 2000
PERSONS = re.compile(r"^(?:die von |de |van |di )?([^\W\d_]{2,})['’]s\b")
KINDS = tuple((name, name.replace("_", " ")) for name in kind_names())


def read_thing(
    row: Sorted, ways: Conventions, answers: Mapping[str, str], kinds: Mapping[str, str]
) -> tuple[Thing, Desk]:
    """kinds: what a person has said an unknown word for a kind is, by folded word."""
    desk = Desk(row.row, row.layout.columns, row.section, ways, answers)
    quantity, model = _quantity(desk)
    kind = _kind(desk, model, kinds)
    number = quantity.number
    tags = _tags(desk, quantity)
    if not quantity.said and number == 1 and len(tags) > 1:
        number = len(tags)
    serials = _serials(desk, number, quantity)
    if not quantity.said and number == 1 and len(serials) > 1:
        number = len(serials)
    thing = Thing(
        row=row.row.number,
        line=row.row.line,
        pieces=number,
        model=short(desk, "model", without_said(BRACKETS.sub("", model) if complaint(desk) else model)),
        kind=kind,
        maker=short(desk, "maker", desk.cell("maker").strip("-–— ")),
        about=quantity.about,
        tags=tuple(tags),
        serials=tuple(serials),
        site=desk.cell("site"),
        bought=bought(desk),
    )
    thing = _with_place_and_owner(desk, thing)
    thing = with_value(desk, replace(thing, stock=_stock(thing, quantity)))
    if thing.stock and thing.tags:
        desk.keep("tag", desk.cell("tag"))
        thing = replace(thing, tags=())
    thing = _with_figures(desk, with_remarks(desk, thing))
    return _finished(desk, thing), desk


def _with_figures(desk: Desk, thing: Thing) -> Thing:
    """Cables of another length are another kind of stock, so that a column with lengths goes into the name."""
    figures = {
        name: value
        for name in UNITS
        if (value := read_figure(name, desk.cell(name), desk.heading(name))) is not None
    }
    model, length = thing.model, figures.get("length_m")
    if thing.stock == "cable" and length and not re.search(r"\d\s?m\b", model, re.IGNORECASE):
        model = short(desk, "model", f"{model} {length:g} m".strip())
    return replace(thing, model=model, figures=figures, patterns=" ".join(desk.cell("patterns").split())[:80])


def _quantity(desk: Desk) -> tuple[Quantity, str]:
    """How many, and the model without a count that stood in it."""
    model = desk.cell("model") or desk.cell("kind")
    cell = desk.cell("quantity")
    found = read_quantity(desk.answers.get(f"row {desk.row.number}: quantity", cell))
    if re.match(r"-\s?\d", cell):
        desk.errors.append(
            Finding(f"A quantity of {cell} can't be. Write how many there are.", row=desk.row.number)
        )
    if found is None or found.number is None or found.number > MOST_PIECES:
        desk.ask(f"“{cell}”: how many are there? The row stays out until that is known.", "quantity")
        return Quantity(None), model
    if found.number == 0:
        desk.ask(f"{model}: 0 of them. Are there none any more? Nothing is made of this row.")
    if found.container:
        desk.keep("quantity", cell)
    if found.said:
        return found, model
    number, rest = quantity_in_words(model)
    if not number and desk.column("quantity") is None and COUNT_PERHAPS.match(model) and kind_name(model):
        desk.ask(f"“{model}”: how many are there? The row stays out until that is known.", "quantity")
        return Quantity(None), model
    return (Quantity(number), rest or model) if number else (found, model)


def _kind(desk: Desk, model: str, kinds: Mapping[str, str]) -> Kind:
    said = desk.cell("kind")
    kind = read_kind([said, model], kind_name(desk.section), kinds)
    if desk.cell("channels").isdigit():
        kind = replace(kind, channels=min(int(desk.cell("channels")), 512))
    if said and model != said and not desk.cell("model"):
        desk.kept.append(said)
    return kind


def _tags(desk: Desk, quantity: Quantity) -> list[str]:
    cell, number = desk.cell("tag"), quantity.number
    if not cell or fold(cell) in words("no_serial"):
        return []
    tags = parts_of(cell, number if quantity.said else None)
    if quantity.said and number and len(tags) not in (1, number):
        desk.ask(
            f"“{cell}” is {len(tags)} tags for {number}. Which has which? They come in without these tags.",
            "tags",
        )
        desk.keep("tag", cell)
        return []
    return [short(desk, "tag", tag.replace("/", "-")) for tag in tags]


def _serials(desk: Desk, number: int | None, quantity: Quantity) -> list[str]:
    cell = desk.cell("serial")
    serials = serials_in(cell, number if quantity.said or number != 1 else None)
    if cell and not serials and re.search(r"\w", cell):
        desk.keep("serial", cell)
    if (quantity.said and number and len(serials) > number) or ((number or 0) > 1 and len(serials) == 1):
        desk.ask(
            f"“{cell}”: {len(serials)} serial for {number}. Whose is it? Kept as a remark until that is known.",
            "serial",
        )
        desk.keep("serial", cell)
        return []
    return [short(desk, "serial", serial) for serial in serials]


def _with_place_and_owner(desk: Desk, thing: Thing) -> Thing:
    place, owner = desk.cell("place"), desk.cell("owner")
    if not place and desk.column("place") is None and names_a_place(desk.section):
        place = desk.section.rstrip(": ")
    away = fold(place) in words("not_a_room")
    if away:
        desk.keep("place", place)
    owner = "" if fold(owner) in words("own") or not re.search(r"\w", owner) else owner
    notes = desk.cell("notes")
    if section_says(desk.section) == "not_ours" and not owner:
        owner = _owner_asked(desk, thing, notes)
    return replace(
        thing,
        place="" if away else short(desk, "place", place),
        owner=short(desk, "owner", owner),
        state="away" if away else "",
    )


def _owner_asked(desk: Desk, thing: Thing, notes: str) -> str:
    if found_in(notes, words("fault.lent")):
        desk.ask(f"“{desk.section}” stands over it, and it is lent: taken as the house's own. Right?")
        return ""
    if named := PERSONS.match(notes):
        return named[1]
    return desk.ask(f"“{desk.section}” stands over it. Whose is it?", "owner") or f"not said ({desk.section})"


def _stock(thing: Thing, quantity: Quantity) -> str:
    """Stands, cables and what is used up are counted, unless they have tags or serials of their own."""
    own = len(thing.serials) or (thing.tags and (len(thing.tags) > 1 or thing.pieces == 1))
    if own:
        return ""
    if quantity.container or (thing.kind.name == "adaptor" and (thing.pieces or 0) > 1):
        return thing.kind.counted or "other"
    return thing.kind.counted


def _finished(desk: Desk, thing: Thing) -> Thing:
    """An unknown word for a kind is asked once in the whole file."""
    word = desk.cell("kind") or thing.model
    key = f"kind: {fold(word)}"
    if thing.kind.name or not thing.pieces or not fold(word) or key in desk.ways.asked:
        return thing
    desk.ways.asked.add(key)
    what = f"“{word}”: what kind of thing is that? Taken as “other” until that is known, in every row that says so."
    desk.questions.append(Finding(what, row=thing.row, key=key, options=KINDS))
    return thing
