"""What falls due, for each unit or stock of each plan, in a constant number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, tzinfo

from django.contrib.contenttypes.models import ContentType
from django.db.models import Max, Q

from studio.clock import say, say_day
from studio.models import Claim, GearUnit, ServiceDone, ServicePlan, Stock
from studio.service.due import Due, Rule, Why, falls_due
from studio.service.uses import Use, Uses, uses_of
from studio.spans import Span

SERVICE = Claim.Purpose.SERVICE
Thing = GearUnit | Stock


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that one plan is for. slot: when it is to be done, claimed; offered: when it could be."""

    plan: ServicePlan
    thing: Thing
    rule: Rule
    due: Due
    uses: Sequence[Use]
    slot: Claim | None
    now: datetime
    offered: datetime | None = None

    @property
    def tz(self) -> tzinfo:
        return self.thing.site.tz

    @property
    def overdue(self) -> bool:
        return self.due.at is not None and self.due.at <= self.now

    @property
    def key(self) -> str:
        """Which thing of the plan, in an address: “unit-7”."""
        return key_of(self.thing)

    @property
    def reason(self) -> str:
        """Why it is on the list, and since or until when."""
        return f"{self._counted()}; {self._due()}"

    def _counted(self) -> str:
        since = self.rule.since.astimezone(self.tz).date()
        last = f"last done {say_day(since)}" if self.rule.done else f"counted from {say_day(since)}"
        match self.due.why:
            case Why.DAYS:
                return f"every {self.plan.every_days} days, {last}"
            case Why.HOURS:
                return f"{self.due.hours:.0f} of {self.plan.every_hours} hours of use, {last}"
            case Why.USE:
                return f"at most {self.plan.before_use_days} days before a session that uses it, {last}"

    def _due(self) -> str:
        if self.due.at is None:
            return "nothing booked makes it due"
        day = say_day(self.due.at.astimezone(self.tz).date())
        if self.due.why == Why.USE:
            return f"before “{self._next_use()}”, {say(self.due.at, self.tz)}"
        if self.overdue:
            return f"due since {day}"
        return f"due on {day}" if self.due.why == Why.DAYS else f"reached on {day}, as it is booked"

    def _next_use(self) -> str:
        return next((use.reason for use in self.uses if use.span.start == self.due.at), "a session")


def key_of(thing: Thing) -> str:
    return f"{'unit' if isinstance(thing, GearUnit) else 'stock'}-{thing.pk}"


def items(now: datetime, plans: Iterable[ServicePlan] | None = None) -> list[Item]:
    """Every thing of these plans, or of all that haven't ended."""
    if plans is None:
        plans = ServicePlan.objects.filter(ended=False).select_related("unit", "stock__site", "gear_model")
    last, slots = _last_done(), _slots(now)
    found = [
        (plan, thing, _rule(plan, thing, last.get((plan.pk, key_of(thing)))))
        for plan, thing in _pairs(list(plans))
    ]
    uses = _uses(found, now)
    return [_item(plan, thing, rule, uses, slots, now) for plan, thing, rule in found]


def _item(
    plan: ServicePlan,
    thing: Thing,
    rule: Rule,
    uses: Uses,
    slots: dict[tuple[int, int], Claim],
    now: datetime,
) -> Item:
    own = uses.get(thing.pk, []) if isinstance(thing, GearUnit) else []
    due = falls_due(rule, [use.span for use in own], now, thing.site.tz)
    return Item(plan, thing, rule, due, own, slots.get((plan.pk, thing.resource_id)), now)


def units_of(plans: Sequence[ServicePlan]) -> list[GearUnit]:
    """Every unit in service that one of the plans is for. Two queries."""
    meant = Q(pk__in=[plan.unit_id for plan in plans]) | Q(gear_model__in=[p.gear_model_id for p in plans])
    units = GearUnit.objects.filter(meant, retired=False)
    whole = units.select_related("site", "gear_model", "home_room").prefetch_related("channels")
    return list(whole.order_by("tag"))


def _pairs(plans: list[ServicePlan]) -> Iterator[tuple[ServicePlan, Thing]]:
    units = units_of(plans)
    for plan in plans:
        if plan.stock is not None and plan.stock.count:
            yield plan, plan.stock
        for unit in units:
            if plan.unit_id == unit.pk or plan.gear_model_id == unit.gear_model_id:
                yield plan, unit


def _last_done() -> dict[tuple[int, str], datetime]:
    done = ServiceDone.objects.filter(plan__ended=False).order_by().values_list("plan", "unit", "stock")
    return {
        (plan, f"unit-{unit}" if unit else f"stock-{stock}"): last
        for plan, unit, stock, last in done.annotate(last=Max("at"))
    }


def _slots(now: datetime) -> dict[tuple[int, int], Claim]:
    """The claim that stands for each plan and thing, if one does."""
    kind = ContentType.objects.get_for_model(ServicePlan)
    ahead = Claim.objects.filter(origin_type=kind, purpose=SERVICE, until__gt=now).order_by("-starts", "-pk")
    return {(claim.origin_id, claim.resource_id): claim for claim in ahead}


def _rule(plan: ServicePlan, thing: Thing, last: datetime | None) -> Rule:
    start = datetime.combine(plan.starts_on, time(), thing.site.tz).astimezone(UTC)
    return Rule(
        since=last or start,
        done=last is not None,
        every_days=plan.every_days,
        every_hours=plan.every_hours,
        before_use_days=plan.before_use_days,
    )


def _uses(found: Sequence[tuple[ServicePlan, Thing, Rule]], now: datetime) -> Uses:
    """Of the units whose use counts, from the first instant from which it does."""
    counted = [
        (thing, rule)
        for plan, thing, rule in found
        if isinstance(thing, GearUnit) and (plan.every_hours or plan.before_use_days)
    ]
    if not counted:
        return {}
    units = {thing.pk: thing for thing, _ in counted}
    return uses_of(list(units.values()), Span(min(now, *(rule.since for _, rule in counted)), None))


def things_of(plan: ServicePlan) -> list[Thing]:
    """All that the plan is for."""
    return [thing for _, thing in _pairs([plan])]


def thing_of(plan: ServicePlan, key: str) -> Thing | None:
    """The thing of the plan with this key; None where it has none such."""
    kind, _, number = key.partition("-")
    if kind == "stock" and plan.stock is not None and number == str(plan.stock_id):
        return plan.stock
    return next((unit for unit in units_of([plan]) if key_of(unit) == key), None)
