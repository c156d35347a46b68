"""What a plan is worth, and the best there is by trying every one. Only the cost table is the planner's.

A worth is a tuple to be compared in order: inputs left out by priority, lead parts first, then the sum of the
other costs. Less is better.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping

from tasks.planning.costs import Costs
from tasks.planning.snapshot import (
    Liking,
    Need,
    Phantom,
    Pickup,
    PickupUnit,
    Plan,
    PreampChannel,
    PreampUnit,
    Snapshot,
    Switching,
)

Spot = tuple[PreampUnit, PreampChannel]
Seat = tuple[PickupUnit | None, Spot | None]
Seating = Mapping[int, Seat]
Worth = tuple[int, ...]
MUST_BE_OFF = (Phantom.MUST_NOT, Phantom.UNKNOWN)


def seating_of(snapshot: Snapshot, plan: Plan) -> Seating:
    units = {unit.tag: unit for unit in snapshot.pickups}
    spots = {(p.tag, c.number): (p, c) for p in snapshot.preamps for c in p.channels}
    return {
        row.number: (
            units[row.unit] if row.unit else None,
            spots[row.preamp, row.channel] if row.preamp and row.channel else None,
        )
        for row in plan.inputs
    }


def best_worth(snapshot: Snapshot, costs: Costs, whole: Snapshot | None = None) -> Worth:
    """The least worth over every way to seat every input, or to leave it out.

    whole: what the snapshot is a share of; its racks keep the order that they have there.
    """
    return min(worth(whole or snapshot, seating, costs) for seating in _every_seating(snapshot))


def _every_seating(snapshot: Snapshot) -> Iterator[Seating]:
    spots = [(p, c) for p in snapshot.preamps for c in p.channels]

    def go(left: tuple[Need, ...], seated: dict[int, Seat]) -> Iterator[Seating]:
        if not left:
            if _whole_holds(snapshot, seated):
                yield seated
            return
        need, rest = left[0], left[1:]
        yield from go(rest, seated)
        for seat in _seats(snapshot, need, spots):
            if _fits_beside(seat, seated):
                yield from go(rest, {**seated, need.number: seat})

    yield from go(snapshot.needs, {})


def _seats(snapshot: Snapshot, need: Need, spots: list[Spot]) -> Iterator[Seat]:
    if need.pickup is Pickup.LINE:
        yield None, None
        return
    for unit in snapshot.pickups:
        if _could(need, unit):
            for preamp, channel in spots:
                works = channel.phantom_works and preamp.switching is not Switching.NONE
                if _needs(unit) and not works:
                    continue
                if unit.phantom in MUST_BE_OFF and preamp.switching is Switching.ALWAYS_ON:
                    continue
                gain = _gain(snapshot, need, unit)
                if channel.noisy_above_db is not None and gain is not None and gain > channel.noisy_above_db:
                    continue
                yield unit, (preamp, channel)


def _could(need: Need, unit: PickupUnit) -> bool:
    loud = need.peak_spl_db is not None and unit.max_spl_db is not None
    too_loud = loud and need.peak_spl_db > unit.max_spl_db + unit.pad_db
    listed = need.pickup is Pickup.DI or unit.kind in need.kinds
    return (
        unit.pickup is need.pickup
        and listed
        and not too_loud
        and not (unit.only_patterns and need.patterns and set(need.patterns).isdisjoint(unit.only_patterns))
        and (not need.wish_binds or _wished(need, unit))
    )


def _gain(snapshot: Snapshot, need: Need, unit: PickupUnit) -> float | None:
    """Both halves of a pair are set to what the quieter asks for."""
    together = next((two for two in _pairs(snapshot) if need in two), (need,))
    peaks = [each.peak_spl_db for each in together]
    if unit.gain_at_94_db is None or None in peaks:
        return None
    return max(94 - peak + unit.gain_at_94_db for peak in peaks if peak is not None)


def _wished(need: Need, unit: PickupUnit) -> bool:
    words = f"{unit.kind} {unit.model}".lower().split()
    return all(any(word.startswith(wish) for word in words) for wish in need.wish.lower().split())


def _needs(unit: PickupUnit) -> bool:
    return unit.phantom is Phantom.NEEDS and not unit.own_supply


def _fits_beside(seat: Seat, seated: Seating) -> bool:
    unit, spot = seat
    if unit is None or spot is None:
        return True
    used = sum(1 for other, _ in seated.values() if other and other.tag == unit.tag)
    return used < unit.inputs and all(
        other is None or _at(other) != _at(spot) for _, other in seated.values()
    )


def _at(spot: Spot) -> tuple[str, int]:
    return spot[0].tag, spot[1].number


def _switch(spot: Spot) -> tuple[str, int]:
    preamp, channel = spot
    if preamp.switching is Switching.PER_CHANNEL:
        return preamp.tag, channel.number
    if preamp.switching is Switching.PER_BANK:
        return preamp.tag, -(-channel.number // preamp.bank_size)
    return preamp.tag, 1


def _on(seated: Seating) -> set[tuple[str, int]]:
    """A switch is on where a unit behind it needs it, and where nobody can turn it off."""
    return {
        _switch(spot)
        for unit, spot in seated.values()
        if unit and spot and (_needs(unit) or spot[0].switching is Switching.ALWAYS_ON)
    }


def _whole_holds(snapshot: Snapshot, seated: Seating) -> bool:
    if len(seated) > min(snapshot.lines, snapshot.recorder_inputs):
        return False
    by_number = {need.number: need for need in snapshot.needs}
    stands = Counter(by_number[number].stand or "none" for number in seated)
    if any(n > snapshot.stands.get(kind, 0) for kind, n in stands.items() if kind != "none"):
        return False
    on = _on(seated)
    drawn: dict[str, float] = defaultdict(float)
    for unit, spot in seated.values():
        if unit is None or spot is None:
            continue
        live = _switch(spot) in on
        if live and unit.phantom in MUST_BE_OFF:
            return False
        if live and spot[1].phantom_works and not unit.own_supply:
            drawn[spot[0].tag] += unit.current_ma or 0.0
    supplies = {p.tag: p.phantom_supply_ma for p in snapshot.preamps}
    return all(supplies[tag] is None or ma <= supplies[tag] + 1e-9 for tag, ma in drawn.items())


def worth(snapshot: Snapshot, seated: Seating, costs: Costs) -> Worth:
    left_out = Counter(need.priority for need in snapshot.needs if need.number not in seated)
    priorities = sorted({need.priority for need in snapshot.needs})
    by_number = {need.number: need for need in snapshot.needs}
    soft = sum(_pick(by_number[number], seat[0], costs) for number, seat in seated.items() if seat[0])
    soft += _patch(snapshot, seated, costs) + sum(_pair(a, b, seated, costs) for a, b in _pairs(snapshot))
    return (*(left_out[priority] for priority in priorities), soft)


def _pick(need: Need, unit: PickupUnit, costs: Costs) -> int:
    wish = bool(need.wish) and _wished(need, unit)
    rank = 0 if wish else [*need.kinds, unit.kind].index(unit.kind)
    cost = rank * costs.step_down_in_kind + costs.dear * min(unit.value // costs.dear_step, 3)
    cost += costs.against_engineer * _place(need.own, unit) + costs.against_house * _place(need.house, unit)
    if need.had and need.had != unit.tag:
        cost += costs.torn_down if need.set_up else costs.not_as_before
    cost += costs.wish_not_met if need.wish and not wish else 0
    cost += costs.fetched if not unit.here else 0
    cost += costs.last_choice if unit.last_choice else 0
    return cost + (costs.has_a_limit if unit.limits else 0)


def _place(liking: Liking, unit: PickupUnit) -> int:
    """The place in the list; past its end where it isn't named, and 4 for what nobody should take."""
    for place, name in enumerate(liking.wanted):
        if name in (unit.kind, unit.model, unit.tag):
            return place
    unwanted = any(name in (unit.kind, unit.model, unit.tag) for name in liking.never)
    return 4 if unwanted else len(liking.wanted)


def _patch(snapshot: Snapshot, seated: Seating, costs: Costs) -> int:
    rack = sorted(snapshot.preamps, key=lambda preamp: (not preamp.here, -len(preamp.channels), preamp.tag))
    before = {preamp.tag: place for place, preamp in enumerate(rack)}
    spots = [spot for _, spot in seated.values() if spot]
    cost = costs.has_a_limit * sum(1 for _, channel in spots if channel.limits)
    by_number = {need.number: need for need in snapshot.needs}
    cost += costs.last_choice * sum(
        channel.last_choice
        or (channel.noisy_above_db is not None and _gain(snapshot, by_number[number], unit) is None)
        for number, (unit, spot) in seated.items()
        if unit and spot
        for channel in (spot[1],)
    )
    cost += sum(before[p.tag] * costs.further_preamp + (0 if p.here else costs.fetched) for p, _ in spots)
    always = {p.tag for p in snapshot.preamps if p.switching is Switching.ALWAYS_ON}
    return cost + costs.phantom_switch_on * sum(1 for tag, _ in _on(seated) if tag not in always)


def _pairs(snapshot: Snapshot) -> list[tuple[Need, Need]]:
    groups: dict[int, list[Need]] = defaultdict(list)
    for need in snapshot.needs:
        if need.pair is not None and need.pickup is not Pickup.LINE:
            groups[need.pair].append(need)
    halves = [(group[0], group[1]) for group in groups.values() if len(group) > 1]
    return [(a, b) for a, b in halves if a.pickup is b.pickup]


def _pair(a: Need, b: Need, seated: Seating, costs: Costs) -> int:
    apart = costs.split_pair + costs.pair_apart
    if a.number not in seated or b.number not in seated:
        return apart
    (one, here), (two, there) = seated[a.number], seated[b.number]
    if not (one and two and here and there) or not _matched(one, two):
        return apart
    beside = here[0].tag == there[0].tag and abs(here[1].number - there[1].number) == 1
    return 0 if beside else costs.pair_apart


def _matched(one: PickupUnit, two: PickupUnit) -> bool:
    """The same model, and the same asked of the phantom switch."""

    def asks(unit: PickupUnit) -> str:
        return "on" if _needs(unit) else "off" if unit.phantom in MUST_BE_OFF else "any"

    return (one.model, asks(one)) == (two.model, asks(two))
