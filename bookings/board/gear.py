"""Gear on the board: a row a unit, or a row a counted stock; filtered and in pages, so that thousands stay quick."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.core.paginator import Page, Paginator
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse

from bookings.board.asked import Asked
from bookings.board.layout import Block
from bookings.board.rows import Board, Row, across, whole_window
from bookings.board.taken import claims_in, taken_by, words_for
from bookings.board.words import Shown, Words
from studio.gear.answers import runs
from studio.gear.search import find
from studio.models import Claim, GearModel, GearUnit, Stock

ON_A_PAGE = 40
FOUND_AT_MOST = 1000
STOCK = "stock"
KINDS = [*GearModel.Kind.choices, (STOCK, "counted stock")]


def gear_board(asked: Asked, now: datetime) -> Board:
    """Six queries for whatever is on view; with a search in it, a few more."""
    return stock_board(asked, now) if asked.filters.get("kind") == STOCK else units_board(asked, now)


def units_board(asked: Asked, now: datetime) -> Board:
    page = Paginator(units_asked(asked), ON_A_PAGE).get_page(asked.filters.get("page"))
    units = list(page.object_list)
    parts = {each.resource_id: (u.resource_id, each.number) for u in units for each in u.channels.all()}
    ids = [unit.resource_id for unit in units] + list(parts)
    shelf = Shelf(asked, now, ids, parts)
    return shelf.board([(unit, unit.tag, remark(unit)) for unit in units], page)


def remark(unit: GearUnit) -> str:
    """What it is and which room it lives in."""
    return f"{unit.gear_model}, {unit.home_room.name}" if unit.home_room else str(unit.gear_model)


def stock_board(asked: Asked, now: datetime) -> Board:
    stock = list(Stock.objects.filter(site=asked.site))
    shelf = Shelf(asked, now, [each.resource_id for each in stock], {}, counted=True)
    return shelf.board([(each, each.name, f"{each.count} in all, {each.storage}") for each in stock], None)


@dataclass(frozen=True, slots=True)
class Shelf:
    """Resources on view; parts: of a channel's resource, the unit's and its number."""

    asked: Asked
    now: datetime
    ids: list[int]
    parts: dict[int, tuple[int, int]]
    counted: bool = False

    def board(
        self, things: Iterable[tuple[GearUnit | Stock, str, str]], page: Page[GearUnit] | None
    ) -> Board:
        claims = claims_in(whole_window(self.asked)).filter(resource__in=self.ids)
        taken = list(taken_by(claims, self.parts, self.counted))
        time = across(self.asked, taken, self.now)
        words, blocks = words_for(self.asked, claims, self.now, of_holds=False), time.blocks(taken)
        rows = [
            Row(
                name,
                remark.removesuffix(", "),
                [shown(block, thing, words) for block in blocks.get(thing.resource_id, ())],
                address=address_of(thing),
            )
            for thing, name, remark in things
        ]
        return time.board(rows, page)


def shown(block: Block, thing: GearUnit | Stock, words: Words) -> Shown:
    if isinstance(thing, Stock):
        return words.on_gear(block, f"{max(block.parts, default=0)} of {thing.count}")
    more = "s" if len(block.parts) > 1 else ""
    return words.on_gear(block, f"channel{more} {runs(block.parts)}" if block.parts else "")


def address_of(thing: GearUnit | Stock) -> str:
    return reverse("studio:unit", args=[thing.tag]) if isinstance(thing, GearUnit) else ""


def units_asked(asked: Asked) -> QuerySet[GearUnit]:
    """The site's units in use, by kind and tag, as far as the filters let them through."""
    units = GearUnit.objects.filter(site=asked.site, retired=False)
    units = units.select_related("gear_model", "home_room", "site").prefetch_related("channels")
    if kind := asked.filters.get("kind"):
        units = units.filter(gear_model__kind=kind)
    if query := asked.filters.get("q"):
        units = units.filter(pk__in=[hit.pk for hit in find(query)[:FOUND_AT_MOST]])
    if asked.filters.get("taken"):
        claims = claims_in(whole_window(asked))
        own = claims.filter(resource=OuterRef("resource"))
        of_channel = Claim.objects.filter(pk__in=claims.values("pk"), resource__channel__unit=OuterRef("pk"))
        units = units.filter(Q(Exists(own)) | Q(Exists(of_channel)))
    return units.order_by("gear_model__kind", "tag")
