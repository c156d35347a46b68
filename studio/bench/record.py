"""What one repair has taken so far, and what is known that helps: its events, sums, suspects, earlier faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from studio.clock import say_length
from studio.faults import other_suspects
from studio.models import Fault, FaultEvent, Photo

EARLIER = 6
PHOTOS = 12


@dataclass(frozen=True, slots=True)
class Record:
    events: Sequence[FaultEvent]
    suspects: Sequence[Fault]
    earlier: Sequence[Fault]
    photos: Sequence[Photo]

    @property
    def times_seen(self) -> int:
        return 1 + sum(event.kind == FaultEvent.Kind.SEEN_AGAIN for event in self.events)

    @property
    def took(self) -> str:
        """“1 h 25 min; 88.20 EUR”, or nothing. Costs of other currencies are not added to each other."""
        minutes = sum(event.minutes or 0 for event in self.events)
        sums: dict[str, Decimal] = {}
        for event in self.events:
            if event.cost is not None:
                sums[event.currency] = sums.get(event.currency, Decimal()) + event.cost
        parts = [say_length(timedelta(minutes=minutes))] if minutes else []
        return "; ".join(parts + [f"{cost} {currency}".strip() for currency, cost in sums.items()])


def record_of(fault: Fault) -> Record:
    others = fault.unit.faults.filter(closed_at__isnull=False).exclude(pk=fault.pk)
    return Record(
        list(fault.events.select_related("by")),
        other_suspects(fault),
        list(others.select_related("channel").order_by("-closed_at", "-pk")[:EARLIER]),
        list(fault.photos.all()[:PHOTOS]),
    )
