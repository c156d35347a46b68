"""The engineer's question answered: does it work, where is it, who has it, when is it free?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from django.urls import reverse

from studio.clock import say, say_day, say_span
from studio.gear.queries import claims_on, resources_of, whole_units
from studio.gear.search import Hit, find
from studio.gear.state import State, state_of, stay_at
from studio.models import Channel, Claim, GearUnit, Person
from studio.spans import Span, first_gap
from studio.whereabouts.where import place_of

FREE_FOR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Answer:
    """About one unit or one of its channels, at one instant."""

    unit: GearUnit
    channel: Channel | None
    state: State
    where: str
    taken: list[str]
    free: str
    history: str

    @property
    def title(self) -> str:
        return f"{self.unit.tag}, channel {self.channel.number}" if self.channel else self.unit.tag

    @property
    def address(self) -> str:
        return unit_address(self.unit.tag, self.channel.number if self.channel else None)


def unit_address(tag: str, number: int | None = None) -> str:
    address = reverse("studio:unit", args=[tag])
    return f"{address}?channel={number}" if number else address


def unit_by_tag(tag: str) -> GearUnit | None:
    """The unit with this tag, else the only one whose tag is the same but for case, accents, punctuation."""
    if unit := whole_units().filter(tag=tag).first():
        return unit
    named = [hit for hit in find(tag) if hit.exact and hit.channel is None]
    return whole_units().filter(pk=named[0].pk).first() if named else None


def answers(hits: Sequence[Hit], at: datetime, viewer: Person | None) -> list[Answer]:
    """One answer a hit, in their order, in a constant number of queries."""
    units = whole_units().in_bulk({hit.pk for hit in hits})
    wanted = set().union(*(resources_of(unit) for unit in units.values()))
    claims = claims_on(wanted, Span(at, None), viewer)
    return [
        _answer(units[hit.pk], channel_of(units[hit.pk], hit.channel), at, claims)
        for hit in hits
        if hit.pk in units
    ]


def answer(unit: GearUnit, channel: Channel | None, at: datetime, viewer: Person) -> Answer:
    return _answer(unit, channel, at, claims_on(resources_of(unit), Span(at, None), viewer))


def channel_of(unit: GearUnit, number: int | None) -> Channel | None:
    return next((channel for channel in unit.channels.all() if channel.number == number), None)


def _answer(unit: GearUnit, channel: Channel | None, at: datetime, claims: dict[int, list[Claim]]) -> Answer:
    tz = unit.site.tz
    owned = [unit.resource_id, *([channel.resource_id] if channel else [])]
    parts = [(0, claim) for resource in owned for claim in claims.get(resource, [])]
    if not channel and not parts:
        parts = [(c.number, claim) for c in unit.channels.all() for claim in claims.get(c.resource_id, [])]
    now = [(number, claim) for number, claim in parts if at in claim.span]
    left = unit.gear_model.channels - len({number for number, _ in now})
    if any(number for number, _ in now) and left:
        free = f"{left} other channel{'s are' if left > 1 else ' is'} free"
    else:
        free = _free([claim for _, claim in parts], at, tz)
    stay = stay_at(unit, at)
    where = unit.where if stay is None else place_of(stay)
    return Answer(
        unit, channel, state_of(unit, channel, at), where, _who(now, tz), free, _history(unit, channel, at)
    )


def _history(unit: GearUnit, channel: Channel | None, at: datetime) -> str:
    """“2 earlier faults, the last until Fri 20 November: new capsule”; empty where there was none."""
    over = [
        (fault.closed_at, fault.outcome)
        for fault in unit.faults.all()
        if fault.closed_at and fault.closed_at <= at and (channel is None or fault.channel in (None, channel))
    ]
    if not over:
        return ""
    closed_at, outcome = max(over)
    said = f"{len(over)} earlier faults, the last" if len(over) > 1 else "an earlier fault"
    until = say_day(closed_at.astimezone(unit.site.tz).date())
    return f"{said} until {until}" + (f": {outcome}" if outcome else "")


def _who(parts: Iterable[tuple[int, Claim]], tz: tzinfo) -> list[str]:
    """One sentence for each booking or repair that has it, with the channels that it has."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for number, claim in parts:
        firmly = "" if claim.firm else ", not confirmed"
        key = (claim.get_purpose_display(), claim.reason, say_span(claim.span, tz), firmly, claim.purpose)
        groups.setdefault(key, []).append(number)
    return [_has(numbers, *key) for key, numbers in groups.items()]


def _has(
    numbers: list[int], purpose: object, reason: object, when: object, firmly: object, kind: object
) -> str:
    which = f"channel{'s' if len(numbers) > 1 else ''} {runs(numbers)}: " if any(numbers) else ""
    if kind == Claim.Purpose.REPAIR or not reason:
        return f"{which}{purpose}, {when}{firmly}"
    return f"{which}“{reason}”, {when} ({purpose}{firmly})"


def _free(claims: Sequence[Claim], at: datetime, tz: tzinfo) -> str:
    """From when it can be had for an hour, or until when it is free."""
    firm = [claim.span for claim in claims if claim.firm]
    start = first_gap(firm, at, FREE_FOR)
    if start is None:
        return "not free before a return date is known"
    if start > at:
        return f"next free {say(start, tz)}"
    later = min((span.start for span in firm if span.start > at), default=None)
    return f"free until {say(later, tz)}" if later else "free, nothing booked on it"


def runs(numbers: Iterable[int]) -> str:
    """Like “1–4, 7”."""
    out: list[list[int]] = []
    for number in sorted(set(numbers)):
        if out and number == out[-1][-1] + 1:
            out[-1].append(number)
        else:
            out.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else str(run[0]) for run in out)
