"""A day of a unit as strips of time: one lane for the unit, or one for channels that are taken alike."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo

from studio.clock import day_span, say_span
from studio.gear.answers import runs
from studio.gear.queries import claims_on, resources_of
from studio.models import Claim, GearUnit, Person
from studio.spans import Span

PATTERNS = {
    Claim.Purpose.GEAR: "t-session",
    Claim.Purpose.SETUP: "t-setup",
    Claim.Purpose.TURNAROUND: "t-turnaround",
}


@dataclass(frozen=True, slots=True)
class Piece:
    """start and end in percent of the day."""

    pattern: str
    start: float
    end: float
    words: str


@dataclass(frozen=True, slots=True)
class Lane:
    name: str
    pieces: list[Piece]


def day_of(at: datetime, tz: tzinfo) -> Span:
    return day_span(at.astimezone(tz).date(), tz)


def lanes(unit: GearUnit, at: datetime, viewer: Person) -> list[Lane]:
    """The lanes of the day of `at` on the site's clock; empty when nobody has anything of it. Two queries at most."""
    day = day_of(at, unit.site.tz)
    claims = claims_on(resources_of(unit), day, viewer)
    if whole := claims.get(unit.resource_id):
        return [Lane("", [_piece(claim, day, unit) for claim in whole])]
    alike: dict[tuple[Piece, ...], list[int]] = {}
    for channel in unit.channels.all():
        if own := claims.get(channel.resource_id):
            alike.setdefault(tuple(_piece(claim, day, unit) for claim in own), []).append(channel.number)
    return [Lane(f"channel{'s' * (len(n) > 1)} {runs(n)}", list(pieces)) for pieces, n in alike.items()]


def _piece(claim: Claim, day: Span, unit: GearUnit) -> Piece:
    pattern = PATTERNS.get(Claim.Purpose(claim.purpose), "t-closed") if claim.firm else "t-hold"
    words = f"{claim.reason or claim.get_purpose_display()}, {say_span(claim.span, unit.site.tz)}"
    return Piece(pattern, percent(claim.starts, day), percent(claim.ends or day.end, day), words)


def percent(instant: datetime | None, day: Span) -> float:
    """Where in the day the instant lies, 0 to 100."""
    if instant is None:
        return 100.0
    share = (instant - day.start) / day.length
    return round(100 * min(max(share, 0.0), 1.0), 2)
