"""The count after breakdown: what a session had, and what of it isn't there any more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from bookings.models import Session
from studio.access import Act, require
from studio.faults import report_fault
from studio.models import Fault, GearUnit, Person, Stock
from studio.whereabouts.counting import CountRefused, lose
from studio.whereabouts.parts import missing_itself
from tasks.models import PlannedInput, Task

COUNT = "count"


@dataclass(frozen=True, slots=True)
class Had:
    """What the session had by its plan and by wish: units, and of each stock how many; cables may be any of the
    house's, since who patches takes what reaches."""

    units: list[GearUnit] = field(default_factory=list)
    stocks: list[tuple[Stock, int]] = field(default_factory=list)
    cables: list[tuple[Stock, int]] = field(default_factory=list)

    @property
    def counted(self) -> list[tuple[Stock, int]]:
        return [*self.stocks, *self.cables]


def had(session: Session) -> Had:
    """Four queries."""
    inputs = PlannedInput.objects.filter(plan__session=session)
    asked = Q(pk__in=inputs.values("unit")) | Q(pk__in=session.wanted_units.values("pk"))
    units = GearUnit.objects.filter(asked, retired=False).select_related("gear_model", "site", "home_room")
    named = inputs.values_list("stand", "cable")
    counts = Counter(name for names in named for name in names if name and name != "none")
    kept = Stock.objects.filter(site=session.room.site_id).order_by("name", "pk")
    stocks = [(stock, counts[stock.name]) for stock in kept if stock.name in counts]
    others = [s for s in kept if s.kind == Stock.Kind.CABLE and s.name not in counts and s.count]
    return Had(list(units.order_by("tag")), stocks, [(stock, stock.count) for stock in others])


def count_back(
    by: Person, session: Session, missing_units: Sequence[int], missing_stock: Mapping[int, int]
) -> list[str]:
    """Raise what isn't back: a unit is missing from now on, of a stock there are so many fewer. Says what was raised.

    The count is ticked off with it, so that a second press raises nothing twice. Raises CountRefused.
    """
    require(by, Act.TICK)
    with transaction.atomic():
        task = Task.objects.select_for_update(of=("self",)).filter(session=session, key=COUNT).first()
        if task is None or task.done_at is not None:
            raise CountRefused(
                "This session is counted already, or has nothing to count; nothing was changed."
            )
        there = had(session)
        raised = [u.tag for u in there.units if u.pk in set(missing_units) and _missed(by, u)]
        for stock, most in there.counted:
            if number := missing_stock.get(stock.pk, 0):
                if not 0 < number <= most:
                    raise CountRefused(f"{most} of {stock} were there to be had: 0 to {most} can be missing.")
                lose(by, stock, number)
                raised.append(f"{number} {stock}")
        task.done_at, task.done_by = timezone.now(), by
        task.problem = f"Missing: {', '.join(raised)}"[:300] if raised else ""
        task.save(update_fields=["done_at", "done_by", "problem"])
    return raised


def _missed(by: Person, unit: GearUnit) -> bool:
    if not missing_itself(unit):
        report_fault(by, unit, None, Fault.Effect.MISSING, words="not back after breakdown")
    return True
