"""Counted stock in the look-up: how many are free, where, who has the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from studio.clock import say_span
from studio.gear.details import figures_of
from studio.gear.index import Hit
from studio.gear.queries import claims_on
from studio.models import Claim, Person, Stock
from studio.spans import Span, peak_use

FREE_FOR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Counted:
    """About one counted kind at one site, for the hour from an instant on."""

    stock: Stock
    free: int
    figures: str
    taken: list[str]

    @property
    def mark(self) -> str:
        return "full" if self.free > 0 else "crossed"

    @property
    def words(self) -> str:
        if self.free > 0:
            return f"{self.free} of {self.stock.count} free"
        return f"none of {self.stock.count} free" if self.stock.count else "none left"

    @property
    def where(self) -> str:
        return ", ".join(filter(None, [self.stock.site.name, self.stock.storage]))


def counted(hits: Sequence[Hit], at: datetime, viewer: Person | None) -> list[Counted]:
    """One a hit, in their order, in a constant number of queries. viewer: as of `claims_on`."""
    found = Stock.objects.select_related("site", "stand", "cable").in_bulk([hit.pk for hit in hits])
    return _all_counted([found[hit.pk] for hit in hits if hit.pk in found], at, viewer)


def counted_one(stock: Stock, at: datetime, viewer: Person | None) -> Counted:
    return _all_counted([stock], at, viewer)[0]


def _all_counted(stocks: Sequence[Stock], at: datetime, viewer: Person | None) -> list[Counted]:
    span = Span(at, at + FREE_FOR)
    claims = claims_on({stock.resource_id for stock in stocks}, span, viewer)
    return [_counted(stock, claims.get(stock.resource_id, []), span) for stock in stocks]


def _counted(stock: Stock, claims: Sequence[Claim], span: Span) -> Counted:
    firm = [(claim.span, claim.quantity) for claim in claims if claim.firm]
    figures = ", ".join(value for _, value in figures_of(stock, ("stand", "cable")) if value)
    return Counted(
        stock, stock.count - peak_use(firm, span), figures, [has_of(claim, stock) for claim in claims]
    )


def has_of(claim: Claim, stock: Stock) -> str:
    """“4 with “Velvet Quarry”, 18:00 to 22:00”."""
    what = f"“{claim.reason}”" if claim.reason else claim.get_purpose_display()
    firmly = "" if claim.firm else " (not confirmed)"
    return f"{claim.quantity} with {what}, {say_span(claim.span, stock.site.tz)}{firmly}"
