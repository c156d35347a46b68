"""Why each input is as it is: what won, what came second, and what the channel has to do with it."""

from __future__ import annotations

from collections.abc import Iterator

from tasks.planning import liked, words
from tasks.planning.carrying import NOTHING_KNOWN, serves
from tasks.planning.couples import belong_together
from tasks.planning.layout import Layout
from tasks.planning.naming import Place
from tasks.planning.obstacles import kinds_for, of_kind, units_of
from tasks.planning.rules import kind_rank, pick_cost, stand_of, wish_met
from tasks.planning.snapshot import Need, Phantom, PickupUnit, PreampChannel, Switching

HEAVY_KG = 1.0
"""From here on a stand is worth a look (common practice, no single source)."""
APART = "but not on a neighbouring channel: no two were left for them"
MUST_BE_OFF = (Phantom.MUST_NOT, Phantom.UNKNOWN)


def why(layout: Layout, p: int) -> tuple[str, ...]:
    """Plain sentences on one planned input, the choice first."""
    need, place = layout.house.needs[p], layout.places[p]
    if place.unit is None:
        return ("Line level: straight to the recorder, no microphone, DI or preamp channel.",)
    said = (
        *_choice(layout.without(p), need, place.unit),
        *_runner_up(layout.without(p), need, place.unit),
        *_level(layout, p, place.unit),
        *_carried(layout, need, place, place.unit),
        *_channel(layout, p, place, place.unit),
        *_pair(layout, p),
    )
    return tuple(words.sentence(text) for text in said)


def _choice(layout: Layout, need: Need, unit: PickupUnit) -> Iterator[str]:
    rank = kind_rank(need, unit) or 0
    met, asked = bool(need.wish.strip()) and wish_met(need, unit), unit.asked
    if asked:
        yield f"{unit.tag} was asked for by its tag"
    if met:
        yield f"{unit.tag} is a {words.kind(unit.kind)}, model {unit.model}: it meets the wish “{need.wish}”"
    elif unit.kind in need.kinds and not asked:
        first = f"{words.kind(unit.kind)} is the {words.ordinal(rank)} choice for {need.source}"
        yield f"{first}; {unit.tag} is {_state(unit)}"
    elif not asked:
        yield f"any DI serves {need.source}; {unit.tag} ({words.kind(unit.kind)}) is {_state(unit)}"
    yield from liked.said(need, unit)
    if need.wish.strip() and not met:
        yield f"the wish “{need.wish}” is not met: {_unmet(layout, need)}"
    if not met and not asked:
        yield from (_passed_over(layout, need, kind, unit) for kind in kinds_for(layout, need)[:rank])
    if not unit.here:
        yield f"{unit.tag} is not in this room and has to be fetched"


def _state(unit: PickupUnit) -> str:
    if unit.last_choice:
        return f"the last that is left ({words.listed(unit.limits)})"
    return f"free, with a limit: {words.listed(unit.limits)}" if unit.limits else "free and works"


def _unmet(layout: Layout, need: Need) -> str:
    wished = [
        u
        for u in layout.house.snapshot.pickups
        if wish_met(need, u) and serves(layout.house.snapshot, need, u)
    ]
    if not wished:
        return "nothing free that would serve meets it"
    users = layout.users(wished)
    if users and not any(layout.has_room(unit) for unit in wished):
        return f"{words.listed([u.tag for u in wished])} went to {words.inputs(users)}"
    return "the plan as a whole is better without"


def _passed_over(layout: Layout, need: Need, kind: str, unit: PickupUnit) -> str:
    blocked = of_kind(layout, need, kind)
    if blocked:
        return f"{words.kind(kind)} is not used: {blocked.text}"
    free = next(
        u
        for u in units_of(layout, need, kind)
        if serves(layout.house.snapshot, need, u) and layout.has_room(u)
    )
    if outweighed := liked.outweighed(need, unit, free):
        return f"{words.kind(kind)} is not used: {free.tag} is free, but {outweighed}"
    for_the_pair = "both halves of the pair get the same model"
    because = for_the_pair if need.pair is not None else "taking it would cost more elsewhere in the plan"
    return f"{words.kind(kind)} is not used: {free.tag} is free, but {because}"


def _runner_up(layout: Layout, need: Need, unit: PickupUnit) -> Iterator[str]:
    house = layout.house
    free = [
        u
        for u in house.snapshot.pickups
        if u.model != unit.model and serves(house.snapshot, need, u) and layout.has_room(u)
    ]
    if not free:
        yield "no other model that is free would serve"
        return
    best = min(free, key=lambda u: (pick_cost(need, u, house.costs), u.tag))
    yield f"runner-up: {best.tag} ({words.kind(best.kind)}), {_behind(layout, need, unit, best)}"


def _behind(layout: Layout, need: Need, unit: PickupUnit, best: PickupUnit) -> str:
    rank = kind_rank(need, best) or 0
    if outweighed := liked.outweighed(need, unit, best):
        return f"but {outweighed}"
    if rank > (kind_rank(need, unit) or 0):
        return f"{words.ordinal(rank)} choice"
    if need.had == unit.tag:
        return f"and {unit.tag} is what it has had until now"
    if unit.here and not best.here:
        return "which is not in this room"
    if best.last_choice and not unit.last_choice:
        return f"which is a last choice: {words.listed(best.limits)}"
    if best.limits and not unit.limits:
        return f"which has a limit: {words.listed(best.limits)}"
    if layout.house.costs.spare(best.value) > layout.house.costs.spare(unit.value):
        return "which is dearer and is spared"
    ours, theirs = (pick_cost(need, u, layout.house.costs) for u in (unit, best))
    return (
        "which would do equally well" if ours == theirs else "better on its own, not for the plan as a whole"
    )


def _level(layout: Layout, p: int, unit: PickupUnit) -> Iterator[str]:
    """Why the pad is in. The halves of a pair have it in together."""
    need, place = layout.house.needs[p], layout.places[p]
    if not layout.pad(p):
        return
    loudest = layout.house.peaks[need.number].loudest
    if loudest is not None and unit.max_spl_db is not None and loudest > unit.max_spl_db:
        peak, most = words.db(loudest), words.db(unit.max_spl_db)
        padded = words.db(unit.max_spl_db + unit.pad_db)
        yield f"pad on: the source peaks at {peak}, the unit takes {most}, and {padded} with its pad"
    elif (gain := layout.gain_db(p)) is not None:
        least = words.db(layout.gains(place).least_db)
        without = words.db(round(gain - unit.pad_db, 1))
        yield f"pad on: without it {without} of gain would be asked for, and the channel gives {least} at least"


def _carried(layout: Layout, need: Need, place: Place, unit: PickupUnit) -> Iterator[str]:
    wanted = stand_of(need)
    if wanted is None or place.stand is None:
        return
    figures = layout.house.snapshot.stand_figures
    load = figures.get(place.stand, NOTHING_KNOWN).load_kg
    if place.stand != wanted and unit.weight_kg is not None:
        most = words.kg(figures[wanted].load_kg or 0)
        yield (
            f"{words.stand(place.stand)} instead of a {words.stand(wanted)}: "
            f"{unit.tag} weighs {words.kg(unit.weight_kg)}, more than the {most} that one carries"
        )
    elif load is None and unit.weight_kg is not None and unit.weight_kg >= HEAVY_KG:
        yield f"{unit.tag} weighs {words.kg(unit.weight_kg)}; what a {words.stand(place.stand)} carries isn't known"
    if load and unit.weight_kg is not None and unit.weight_kg * 2 > load and figures[place.stand].reach_m:
        yield (
            f"{unit.tag} is more than half of what the {words.stand(place.stand)} carries upright; with its boom "
            "out it carries less: counterweight or sandbag first"
        )


def _channel(layout: Layout, p: int, place: Place, unit: PickupUnit) -> Iterator[str]:
    need, gains = layout.house.needs[p], layout.gains(place)
    preamp, mates = layout.mates(place)
    channel = next(c for c in preamp.channels if c.number == place.channel)
    yield from _phantom(layout, place, unit, channel, mates)
    if channel.limits:
        yield f"channel {channel.number} of {preamp.tag} has a limit: {words.listed(channel.limits)}"
    gain = layout.gain_db(p)
    if channel.noisy_above_db is not None:
        if gain is None:
            yield "how much gain it takes isn't known: the last channel that is left"
        else:
            yield f"about {words.db(round(gain))} of gain will do for {need.source}"
    if gain is not None and preamp.pad_db > 0 and gain < gains.least_db + preamp.pad_db - 1e-6:
        yield f"the pad of {preamp.tag} in: {words.db(round(gain, 1))} of gain are less than it gives without"
    if not preamp.here:
        yield f"{preamp.tag} is not in this room and has to be fetched: through a patch point"
    if not preamp.here and unit.phantom in MUST_BE_OFF and preamp.switching is not Switching.NONE:
        yield f"patched only after its phantom is off and {preamp.drain_seconds} s have passed: see the checklist"


def _phantom(
    layout: Layout, place: Place, unit: PickupUnit, channel: PreampChannel, mates: list[int]
) -> Iterator[str]:
    preamp, kind = layout.house.preamps[place.preamp or 0], words.kind(unit.kind)
    shared = f" for {words.spans(mates)}, which share one switch" if len(mates) > 1 else ""
    if not channel.phantom_works and unit.phantom is Phantom.INDIFFERENT:
        yield f"channel {channel.number} has no phantom, fine for a {kind}"
    elif preamp.switching is Switching.NONE:
        yield f"{preamp.tag} gives no phantom: {_wants(unit)}"
    elif preamp.switching is Switching.ALWAYS_ON:
        yield f"phantom is always on at {preamp.tag}: {_wants(unit)}"
    elif layout.gets_phantom(place):
        yield f"phantom on{shared}: {_wants(unit)}"
    else:
        yield f"phantom off{shared if unit.phantom in MUST_BE_OFF else ''}: {_wants(unit)}"


def _wants(unit: PickupUnit) -> str:
    kind = words.kind(unit.kind)
    if unit.phantom is Phantom.UNKNOWN:
        return f"it is not known whether {unit.tag} stands it"
    if unit.phantom is Phantom.MUST_NOT:
        return f"{unit.tag}, a {kind}, must not have it"
    if unit.own_supply:
        return f"{unit.tag} runs on its own supply"
    return f"the {kind} needs it" if unit.phantom is Phantom.NEEDS else f"the {kind} does not mind"


def _pair(layout: Layout, p: int) -> Iterator[str]:
    house, place = layout.house, layout.places[p]
    other = next((b if p == a else a for a, b in house.pairs if p in (a, b)), None)
    if other is None or place.unit is None:
        return
    number = house.needs[other].number
    mate = layout.places.get(other)
    if mate is None or mate.unit is None:
        yield f"its other half, input {number}, could not be filled"
    elif (mate.unit.model, mate.demand) != (place.unit.model, place.demand):
        yield f"not of one model with input {number}: no two free units of one model would serve both"
    else:
        beside = "neighbouring channels" if place.beside else APART
        yield f"pair with input {number}: {_matched(place.unit, mate.unit)}, {beside}"
        if not belong_together(place.unit, mate.unit):
            yield "not matched with each other: no two that were are left for them"


def _matched(unit: PickupUnit, other: PickupUnit) -> str:
    if unit.tag == other.tag:
        return "both in one box"
    return "a matched pair" if belong_together(unit, other) else "same model"
