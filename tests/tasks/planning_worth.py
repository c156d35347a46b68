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
        if _could(need, unit) and (not _stand(need) or _stands(snapshot, need, unit)):
            for preamp, channel in spots:
                works = channel.phantom_works and preamp.switching is not Switching.NONE
                if _needs(unit) and not works:
                    continue
                if unit.phantom in MUST_BE_OFF and preamp.switching is Switching.ALWAYS_ON:
                    continue
                if _in_range(snapshot, need, unit, (preamp, channel)):
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


def _stand(need: Need) -> str:
    return "" if need.stand in (None, "none") else str(need.stand)


def _stands(snapshot: Snapshot, need: Need, unit: PickupUnit) -> list[str]:
    """The wanted kind unless it is known to be too weak; then all that are known to be strong enough and as long."""
    figures, wanted, kilos = snapshot.stand_figures, _stand(need), unit.weight_kg
    own = figures.get(wanted)
    if own is None or own.load_kg is None or kilos is None or kilos <= own.load_kg:
        return [wanted]
    strong = {
        kind: each for kind, each in figures.items() if each.load_kg is not None and each.load_kg >= kilos
    }
    return [kind for kind, each in strong.items() if (each.reach_m or 0) >= (own.reach_m or 0)]


def _enough_stands(options: list[list[str]], left: dict[str, int]) -> bool:
    """Tries every way to hand them out."""
    if not options:
        return True
    return any(
        left.get(kind, 0) > 0 and _enough_stands(options[1:], {**left, kind: left[kind] - 1})
        for kind in options[0]
    )


def _enough_cables(snapshot: Snapshot, seated: Seating) -> bool:
    """The longest cable for the longest way, and so on down."""
    if snapshot.cables is None:
        return True
    runs = [n.cable_m or 0.0 for n in snapshot.needs if n.number in seated and n.pickup is not Pickup.LINE]
    cables = [cable.length_m or 0.0 for cable in snapshot.cables for _ in range(cable.count)]
    longest = zip(sorted(runs, reverse=True), sorted(cables, reverse=True), strict=False)
    return len(runs) <= len(cables) and all(cable >= way for way, cable in longest)


def _gains(snapshot: Snapshot, need: Need, unit: PickupUnit) -> list[float | None]:
    """Without a pad and with it, as far as the louder half of a pair allows; for the gain the quieter counts."""
    together = next((two for two in _pairs(snapshot) if need in two), (need,))
    peaks = [each.peak_spl_db for each in together]
    loud = unit.max_spl_db is not None and any(peak is not None and peak > unit.max_spl_db for peak in peaks)
    pads = [0.0] * (not loud or not unit.pad_db) + [unit.pad_db] * bool(unit.pad_db)
    if unit.gain_at_94_db is None or None in peaks:
        return [None]
    quiet = min(peak for peak in peaks if peak is not None)
    return [94 - quiet + unit.gain_at_94_db + pad for pad in pads]


def _in_range(snapshot: Snapshot, need: Need, unit: PickupUnit, spot: Spot) -> bool:
    preamp, channel = spot
    tops = [each for each in (preamp.most_gain_db, channel.noisy_above_db) if each is not None]
    least = None if preamp.least_gain_db is None else preamp.least_gain_db - preamp.pad_db
    return any(
        gain is None or (all(gain <= top for top in tops) and (least is None or gain >= least))
        for gain in _gains(snapshot, need, unit)
    )


def _held(snapshot: Snapshot, need: Need, unit: PickupUnit) -> list[bool]:
    """Of every channel of the house whether it holds the gain."""
    return [_in_range(snapshot, need, unit, (p, c)) for p in snapshot.preamps for c in p.channels]


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
    wanted = [(by_number[number], unit) for number, (unit, _) in seated.items() if unit]
    options = [_stands(snapshot, need, unit) for need, unit in wanted if _stand(need)]
    if not _enough_stands(options, snapshot.stands) or not _enough_cables(snapshot, seated):
        return False
    plugs = len({unit.tag for _, unit in wanted if unit.own_supply})
    if snapshot.mains_outlets is not None and plugs > snapshot.mains_outlets:
        return False
    patched = sum(1 for _, spot in seated.values() if spot and not spot[0].here)
    if snapshot.patch_points is not None and patched > snapshot.patch_points:
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
    soft += _patch(snapshot, seated, costs)
    soft += sum(_pair(snapshot, a, b, seated, costs) for a, b in _pairs(snapshot))
    soft += costs.stronger_stand * sum(
        _stand(need) not in _stands(snapshot, need, seat[0])
        for need in snapshot.needs
        if _stand(need) and (seat := seated.get(need.number)) and seat[0]
    )
    return (*(left_out[priority] for priority in priorities), soft)


def _pick(need: Need, unit: PickupUnit, costs: Costs) -> int:
    wish = unit.asked or (bool(need.wish) and _wished(need, unit))
    rank = 0 if wish else [*need.kinds, unit.kind].index(unit.kind)
    cost = rank * costs.step_down_in_kind + costs.dear * min(unit.value // costs.dear_step, 3)
    cost += costs.against_engineer * _place(need.own, unit) + costs.against_house * _place(need.house, unit)
    if need.had and need.had != unit.tag:
        cost += costs.torn_down if need.set_up else costs.not_as_before
    cost += costs.wish_not_met if (need.wish or need.asked) and not wish else 0
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
        or (channel.noisy_above_db is not None and _gains(snapshot, by_number[number], unit) == [None])
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


def _pair(snapshot: Snapshot, a: Need, b: Need, seated: Seating, costs: Costs) -> int:
    apart = costs.split_pair + costs.unmatched_pair + costs.pair_apart
    if a.number not in seated or b.number not in seated:
        return apart
    (one, here), (two, there) = seated[a.number], seated[b.number]
    if not (one and two and here and there) or not _alike(one, two):
        return apart
    if _held(snapshot, a, one) != _held(snapshot, b, two):
        return apart
    beside = here[0].tag == there[0].tag and abs(here[1].number - there[1].number) == 1
    matched = one.tag == two.tag or (one.matched and one.matched == two.matched)
    return (0 if beside else costs.pair_apart) + (0 if matched else costs.unmatched_pair)


def _alike(one: PickupUnit, two: PickupUnit) -> bool:
    """The same model, and the same asked of the phantom switch."""

    def asks(unit: PickupUnit) -> str:
        return "on" if _needs(unit) else "off" if unit.phantom in MUST_BE_OFF else "any"

    return (one.model, asks(one)) == (two.model, asks(two))
