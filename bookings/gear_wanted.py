"""Sessions that want what is broken: they asked for it by its tag, or had to give it up to the repair."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.contrib.contenttypes.models import ContentType
from django.utils import timezone

from bookings.models import Session
from studio.bench.wants import Want, also_wanted
from studio.models import Fault, GivenUp


@also_wanted
def sessions_wanting(faults: Sequence[Fault]) -> dict[int, list[Want]]:
    """Standing sessions that aren't over, by fault. Three queries."""
    kind = ContentType.objects.get_for_model(Session)
    pairs = set(_asked(faults)) | set(_gave_up(faults, kind.pk))
    standing = Session.objects.standing().filter(end__gt=timezone.now(), pk__in={pk for _, pk in pairs})
    sessions = standing.only("setup_at", "clear_at", "title").in_bulk()
    found: dict[int, list[Want]] = {}
    for fault, pk in pairs:
        if session := sessions.get(pk):
            found.setdefault(fault, []).append(Want((kind.pk, pk), session.whole, session.title))
    return found


def _asked(faults: Sequence[Fault]) -> Iterator[tuple[int, int]]:
    ahead = Session.wanted_units.through.objects.filter(
        session__end__gt=timezone.now(), gearunit__in={fault.unit_id for fault in faults}
    )
    rows = list(ahead.values_list("gearunit", "session"))
    for fault in faults:
        yield from ((fault.pk, session) for unit, session in rows if unit == fault.unit_id)


def _gave_up(faults: Sequence[Fault], kind: int) -> Iterator[tuple[int, int]]:
    rows = GivenUp.objects.filter(fault__in=faults, origin_type=kind)
    yield from rows.values_list("fault", "origin_id")
