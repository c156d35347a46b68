"""Taking in a gear list: what it would change, and changing it, in one transaction or not at all."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from django.conf import settings
from django.db import transaction

from studio.gearlists.matching import Known, Piece, match_pieces, model_name
from studio.gearlists.writing import add_models, add_stock, add_unit, added_remark, changes, stock_wanted
from studio.house.forms import StockForm
from studio.importing.reading import Reading
from studio.importing.table import Finding
from studio.models import Fault, HeadingMatch, Person, Site, Stock
from studio.signals import house_changed

SAID = {"home_room": "room", "storage": "storage place", "bought": "day of purchase"}


class ListRefused(ValueError):
    """The list has errors, so nothing of it was taken in. The message says what to do."""


@dataclass(frozen=True, slots=True)
class Line:
    """What becomes of one row. what: “3 new”, “as it is”, “serial, owner changed”."""

    row: int
    line: int
    name: str
    pieces: int
    what: str


@dataclass(slots=True)
class Plan:
    """The dry run: what each row would change. reading has the questions that the house itself raises, too."""

    reading: Reading
    known: Known
    pieces: list[Piece]
    stock: list[Stock]
    lines: list[Line] = field(default_factory=list)
    new: int = 0
    changed: int = 0
    same: int = 0

    @property
    def says(self) -> str:
        return f"{self.new} new, {self.changed} changed, {self.same} as they are"


def remembered() -> dict[tuple[str, str], str]:
    """What people have confirmed of headings: (folded heading, sort of list) to field."""
    return {(match.heading, match.sort): match.field for match in HeadingMatch.objects.all()}


def usual_site(by: Person | None = None) -> Site:
    """The person's own site, else the first; unsaved where the house has none yet."""
    site = (by.site if by else None) or Site.objects.order_by("pk").first()
    return site or Site(name="House", zone=settings.TIME_ZONE)


def plan(reading: Reading, known: Known) -> Plan:
    """What the list would change in the house as it is known. Writes nothing."""
    pieces, asked = match_pieces(reading.things, known)
    stock = stock_wanted(reading.things, known)
    asked += _unknown_sites(reading, known)
    errors = [*reading.errors, *_stock_errors(stock, known)]
    heard = _known_faults(reading, pieces)
    questions = [question for question in reading.questions if question.key not in heard or not question.key]
    reading = replace(reading, questions=(*questions, *asked), errors=tuple(errors))
    made = Plan(reading, known, pieces, stock)
    made.lines = [*_unit_lines(made), *_stock_lines(made)]
    made.lines.sort(key=lambda line: line.row)
    return made


def store(reading: Reading, site: Site, good_rows: bool = False) -> Plan:
    """Takes the list in: all of it, or nothing. good_rows: rows with errors stay out and the others come in.

    What is asked and not answered stays out too: that field, that fault, that row. Raises ListRefused.
    """
    with transaction.atomic():
        if site.pk is None:
            site.save()
        made = plan(reading, Known.read(site))
        if made.reading.errors and not good_rows:
            first = made.reading.errors[0]
            raise ListRefused(
                f"Nothing was taken in: {len(made.reading.errors)} errors, the first in row {first.row}: {first.what}"
            )
        add_models((piece.thing for piece in made.pieces), made.known)
        for piece in made.pieces:
            _write(piece, made.known)
        for stock in made.stock:
            _write_stock(stock, made.known)
    return made


def _write(piece: Piece, known: Known) -> None:
    if piece.unit is None:
        piece.unit = add_unit(piece, known)
        return
    if found := changes(piece, known):
        for name, value in found.items():
            setattr(piece.unit, name, value)
        piece.unit.save(update_fields=list(found))
        house_changed.send(type(piece.unit), thing=piece.unit)


def _write_stock(wanted: Stock, known: Known) -> None:
    stock = known.stock.get((wanted.site_id, wanted.name.casefold()))
    if stock is None:
        add_stock(wanted)
    elif found := _stock_changes(stock, wanted):
        for name, value in found.items():
            setattr(stock, name, value)
        stock.save()
        house_changed.send(Stock, thing=stock)


def _stock_changes(stock: Stock, wanted: Stock) -> dict[str, object]:
    found: dict[str, object] = {}
    if stock.count != wanted.count:
        found["count"] = wanted.count
    if wanted.storage and stock.storage != wanted.storage:
        found["storage"] = wanted.storage
    if remark := added_remark(stock.remark, wanted.remark):
        found["remark"] = remark
    return found


def _stock_errors(wanted: Iterable[Stock], known: Known) -> Iterator[Finding]:
    """A count below what is promised to sessions is refused, as on the stock's own form."""
    for each in wanted:
        stock = known.stock.get((each.site_id, each.name.casefold()))
        if stock is not None and each.count < stock.count:
            said = {"site": stock.site_id, "kind": stock.kind, "name": stock.name, "count": each.count}
            form = StockForm(said, instance=Stock.objects.get(pk=stock.pk))
            if "count" in form.errors:
                yield Finding(f"{stock.name}: {form.errors['count'][0]}", column="(stock)")


def _unknown_sites(reading: Reading, known: Known) -> list[Finding]:
    named = dict.fromkeys(
        thing.site for thing in reading.things if thing.site and known.site_of(thing) is known.site
    )
    unknown = [name for name in named if name.casefold() != known.site.name.casefold()]
    what = "“{}” is no site of the house. Its things come in at {} until there is one."
    return [Finding(what.format(name, known.site.name), column="(site)") for name in unknown]


def _known_faults(reading: Reading, pieces: Iterable[Piece]) -> set[str]:
    """Keys of questions about faults that the house has heard of already, in the same words."""
    units = {(piece.thing.row, piece.index): piece.unit for piece in pieces if piece.unit is not None}
    if not units:
        return set()
    heard = set(Fault.objects.filter(unit__in=set(units.values())).values_list("unit_id", "words"))
    return {
        said.key
        for thing in reading.things
        for said in thing.faults
        for unit in [units.get((thing.row, index)) for index in said.of or range(thing.pieces or 0)]
        if unit is not None and (unit.pk, said.remark.words) in heard
    }


def _unit_lines(made: Plan) -> Iterator[Line]:
    rows: dict[int, list[Piece]] = defaultdict(list)
    for piece in made.pieces:
        rows[piece.thing.row].append(piece)
    for pieces in rows.values():
        thing = pieces[0].thing
        said = Counter(_says(made, piece) for piece in pieces)
        what = ", ".join(
            f"{number} {words}" if len(pieces) > 1 or words == "new" else words
            for words, number in said.items()
        )
        yield Line(thing.row, thing.line, f"{thing.maker} {model_name(thing)}".strip(), len(pieces), what)


def _says(made: Plan, piece: Piece) -> str:
    if piece.unit is None:
        made.new += 1
        return "new"
    if found := changes(piece, made.known):
        made.changed += 1
        return f"{piece.unit.tag}: {', '.join(SAID.get(name, name) for name in found)} changed"
    made.same += 1
    return "as it is"


def _stock_lines(made: Plan) -> Iterator[Line]:
    wanted = {(stock.site_id, stock.name.casefold()): stock for stock in made.stock}
    said = {key: _stock_says(made, stock) for key, stock in wanted.items()}
    for thing in made.reading.things:
        if thing.stock and thing.pieces is not None:
            name = model_name(thing)
            what = said[made.known.site_of(thing).pk, name.casefold()]
            yield Line(thing.row, thing.line, name, thing.pieces, what)


def _stock_says(made: Plan, wanted: Stock) -> str:
    stock = made.known.stock.get((wanted.site_id, wanted.name.casefold()))
    if stock is None:
        made.new += 1
        return "new, counted"
    if found := _stock_changes(stock, wanted):
        made.changed += 1
        was = f"count {stock.count} to {wanted.count}" if "count" in found else ""
        return ", ".join(filter(None, [was, *(SAID.get(n, n) for n in found if n != "count")])) + " changed"
    made.same += 1
    return "as it is, counted"
