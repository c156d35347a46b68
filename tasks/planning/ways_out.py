"""The cheapest ways to meet a need that is open, from what is free: another kind, another stand. Pure.

What would do is decided by the checker, which shares no code with the planner. Costs are in hours of trouble: a first
guess (common practice, no single source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from tasks.planning import words
from tasks.planning.rules import is_shared, kind_rank, switch_of, takes_level, wish_met
from tasks.planning.snapshot import Need, Pickup, PickupUnit, Plan, PlannedInput, PreampUnit, Snapshot
from tasks.planning.swap import breaks, settled

ANOTHER_STAND = 0.25
ANOTHER_KIND = 0.5  # for each kind that is allowed besides
FETCHED = 0.25
A_WISH_LESS = 1.0
ANOTHER_SESSION = 1.0  # somebody else has to be asked, besides the wait
A_HIRE = 6.0
A_MOVE = 8.0
FURTHER_AHEAD = 24.0  # what comes back only when the session is over

PRICES = (
    f"In hours of trouble: another stand {ANOTHER_STAND:g}, another kind {ANOTHER_KIND:g}, the wish not met "
    f"{A_WISH_LESS:g}, asking another session {ANOTHER_SESSION:g} and the wait, a hire {A_HIRE:g}, moving the session "
    f"{A_MOVE:g} and more the further. Least comes first."
)


@dataclass(frozen=True, slots=True)
class Way:
    """One way out, in words. act: what a press does (allow, stand) with value, link: where it is done instead."""

    cost: float
    text: str
    act: str = ""
    value: str = ""
    link: str = ""


def ways_here(snapshot: Snapshot, plan: Plan, need: Need) -> list[Way]:
    """What a press would do at once: each of these breaks no rule with the plan as it stands."""
    return [*_other_kinds(snapshot, plan, need), *_other_stands(snapshot, plan, need)]


def _other_kinds(snapshot: Snapshot, plan: Plan, need: Need) -> Iterator[Way]:
    if need.pickup is not Pickup.MIC:
        return
    tried: set[str] = set()
    for unit in _free(snapshot, plan, need):
        if unit.kind in tried or (kind_rank(need, unit) is not None and wish_met(need, unit)):
            continue
        if not takes_level(need, unit):
            continue
        allowed = replace(need, kinds=tuple(dict.fromkeys((*need.kinds, unit.kind))))
        if need.wish_binds and not wish_met(need, unit):
            continue
        if serves(snapshot, plan, allowed, unit):
            tried.add(unit.kind)
            fetched = "" if unit.here else ", to be fetched"
            text = f"allow a {words.kind(unit.kind)} for it: {unit.tag} is free{fetched}"
            yield Way(ANOTHER_KIND + FETCHED * (not unit.here), words.sentence(text), "allow", unit.kind)


def _other_stands(snapshot: Snapshot, plan: Plan, need: Need) -> Iterator[Way]:
    if need.pickup is not Pickup.MIC or need.stand is None:
        return
    fitting = [u for u in _free(snapshot, plan, need) if kind_rank(need, u) is not None]
    for stand in sorted(snapshot.stands):
        other = replace(need, stand=stand)
        if stand != need.stand and any(serves(snapshot, plan, other, unit) for unit in fitting[:3]):
            text = f"use a {words.stand(stand)} if it reaches"
            yield Way(ANOTHER_STAND, words.sentence(text), "stand", stand)


def _free(snapshot: Snapshot, plan: Plan, need: Need) -> list[PickupUnit]:
    """By what the catalogue likes, then those here, then by tag."""
    used = {row.unit for row in plan.inputs}
    free = [u for u in snapshot.pickups if u.pickup is need.pickup and u.tag not in used]
    return sorted(free, key=lambda u: (u.last_choice, bool(u.limits), not u.here, u.tag))


def serves(snapshot: Snapshot, plan: Plan, need: Need, unit: PickupUnit) -> bool:
    """True where the input can be added with this unit on some free channel, and nothing else moves."""
    needs = tuple(need if other.number == need.number else other for other in snapshot.needs)
    asked = replace(snapshot, needs=needs)
    left = tuple(each for each in plan.unfilled if each.number != need.number)
    for preamp, channel in _spots(snapshot, plan):
        row = _row(plan, need, unit, preamp, channel)
        rows = tuple(sorted((*plan.inputs, row), key=lambda each: each.number))
        if not breaks(asked, plan, settled(asked, replace(plan, inputs=rows, unfilled=left))):
            return True
    return False


def _spots(snapshot: Snapshot, plan: Plan) -> Iterator[tuple[PreampUnit, int]]:
    """One free channel for each preamp, or for each phantom switch of those that share one."""
    taken = {(row.preamp, row.channel) for row in plan.inputs}
    for preamp in snapshot.preamps:
        seen: set[tuple[int, bool]] = set()
        for channel in preamp.channels:
            alike = (switch_of(preamp, channel.number) if is_shared(preamp) else 0, channel.phantom_works)
            if (preamp.tag, channel.number) not in taken and alike not in seen:
                seen.add(alike)
                yield preamp, channel.number


def _row(plan: Plan, need: Need, unit: PickupUnit, preamp: PreampUnit, channel: int) -> PlannedInput:
    lines, inputs = {row.line for row in plan.inputs}, {row.recorder_input for row in plan.inputs}
    free = range(1, len(plan.inputs) + 2)
    return PlannedInput(
        number=need.number,
        label=need.label,
        source=need.source,
        pickup=need.pickup,
        unit=unit.tag,
        unit_input=1,
        preamp=preamp.tag,
        channel=channel,
        phantom=False,
        pad=False,
        stand=need.stand,
        line=next(n for n in free if n not in lines),
        recorder_input=next(n for n in free if n not in inputs),
        why=("tried",),
    )


def by_cost(ways: list[Way]) -> list[Way]:
    return sorted(ways, key=lambda way: (way.cost, way.text))
