"""Why each input is as it is: what won, what came second, and what the channel has to do with it."""

from __future__ import annotations

from collections.abc import Iterator

from tasks.planning import words
from tasks.planning.layout import Layout
from tasks.planning.naming import Place
from tasks.planning.obstacles import kinds_for, of_kind, units_of
from tasks.planning.rules import kind_rank, may_serve, needs_pad, pick_cost, wish_met
from tasks.planning.snapshot import Need, Phantom, PickupUnit, PreampChannel, Switching

MUST_BE_OFF = (Phantom.MUST_NOT, Phantom.UNKNOWN)


def why(layout: Layout, p: int) -> tuple[str, ...]:
    """Plain sentences on one planned input, the choice first."""
    need, place = layout.house.needs[p], layout.places[p]
    if place.unit is None:
        return ("Line level: straight to the recorder, no microphone, DI or preamp channel.",)
    said = (
        *_choice(layout.without(p), need, place.unit),
        *_runner_up(layout.without(p), need, place.unit),
        *_level(need, place.unit),
        *_channel(layout, need, place, place.unit),
        *_pair(layout, p),
    )
    return tuple(words.sentence(text) for text in said)


def _choice(layout: Layout, need: Need, unit: PickupUnit) -> Iterator[str]:
    rank = kind_rank(need, unit) or 0
    met = bool(need.wish.strip()) and wish_met(need, unit)
    if met:
        yield f"{unit.tag} is a {words.kind(unit.kind)}, model {unit.model}: it meets the wish “{need.wish}”"
    elif unit.kind in need.kinds:
        first = f"{words.kind(unit.kind)} is the {words.ordinal(rank)} choice for {need.source}"
        yield f"{first}; {unit.tag} is {_state(unit)}"
    else:
        yield f"any DI serves {need.source}; {unit.tag} ({words.kind(unit.kind)}) is {_state(unit)}"
    if need.wish.strip() and not met:
        yield f"the wish “{need.wish}” is not met: {_unmet(layout, need)}"
    if not met:
        yield from (_passed_over(layout, need, kind, unit) for kind in kinds_for(layout, need)[:rank])
    if not unit.here:
        yield f"{unit.tag} is not in this room and has to be fetched"


def _state(unit: PickupUnit) -> str:
    if unit.last_choice:
        return f"the last that is left ({words.listed(unit.limits)})"
    return f"free, with a limit: {words.listed(unit.limits)}" if unit.limits else "free and works"


def _unmet(layout: Layout, need: Need) -> str:
    wished = [u for u in layout.house.snapshot.pickups if wish_met(need, u) and may_serve(need, u)]
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
    free = next(u for u in units_of(layout, need, kind) if may_serve(need, u) and layout.has_room(u))
    for_the_pair = "both halves of the pair get the same model"
    because = for_the_pair if need.pair is not None else "taking it would cost more elsewhere in the plan"
    return f"{words.kind(kind)} is not used: {free.tag} is free, but {because}"


def _runner_up(layout: Layout, need: Need, unit: PickupUnit) -> Iterator[str]:
    house = layout.house
    free = [
        u
        for u in house.snapshot.pickups
        if u.model != unit.model and may_serve(need, u) and layout.has_room(u)
    ]
    if not free:
        yield "no other model that is free would serve"
        return
    best = min(free, key=lambda u: (pick_cost(need, u, house.costs), u.tag))
    yield f"runner-up: {best.tag} ({words.kind(best.kind)}), {_behind(layout, need, unit, best)}"


def _behind(layout: Layout, need: Need, unit: PickupUnit, best: PickupUnit) -> str:
    rank = kind_rank(need, best) or 0
    if rank > (kind_rank(need, unit) or 0):
        return f"{words.ordinal(rank)} choice"
    if need.wish.strip() and wish_met(need, unit) and not wish_met(need, best):
        return "which is not what was wished for"
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


def _level(need: Need, unit: PickupUnit) -> Iterator[str]:
    if need.peak_spl_db is None or unit.max_spl_db is None:
        return
    peak, most = words.db(need.peak_spl_db), words.db(unit.max_spl_db)
    if needs_pad(need, unit):
        padded = words.db(unit.max_spl_db + unit.pad_db)
        yield f"pad on: the source peaks at {peak}, the unit takes {most}, and {padded} with its pad"


def _channel(layout: Layout, need: Need, place: Place, unit: PickupUnit) -> Iterator[str]:
    preamp, mates = layout.mates(place)
    channel = next(c for c in preamp.channels if c.number == place.channel)
    yield from _phantom(layout, place, unit, channel, mates)
    if channel.limits:
        yield f"channel {channel.number} of {preamp.tag} has a limit: {words.listed(channel.limits)}"
    if channel.noisy_above_db is not None:
        gain = layout.house.gain_db(need, unit)
        if gain is None:
            yield "how much gain it takes isn't known: the last channel that is left"
        else:
            yield f"about {words.db(round(gain))} of gain will do for {need.source}"
    if not preamp.here:
        yield f"{preamp.tag} is not in this room and has to be fetched"


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
        yield f"not a matched pair with input {number}: no two free units of one model would serve both"
    elif place.beside:
        yield f"pair with input {number}: same model, neighbouring channels"
    else:
        yield f"same model as input {number}, but not on a neighbouring channel: no two were left for them"
