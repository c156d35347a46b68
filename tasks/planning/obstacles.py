"""What keeps an input from being served: asked where a first choice lost, and where an input stays empty."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf

from tasks.planning import words
from tasks.planning.carrying import serves, stands_for, wants_cable
from tasks.planning.layout import Layout
from tasks.planning.levels import gain_with, pads
from tasks.planning.rules import Feed, feed_of, has_pattern, range_of, stand_of, takes_level, wish_met
from tasks.planning.snapshot import Missing, Need, Phantom, Pickup, PickupUnit

CHANNEL = "preamp channel"
CABLE = "join two cables, or stand nearer to a wall box"
OUTLET = "take a microphone without a supply of its own, or a room with more outlets"
PATCH_POINT = "plan it in a room with more patch points, or with more preamp channels wired to its lines"


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One thing in the way: a sentence, the kind of thing that is short, and the inputs that hold it.

    more_helps is true where one more of the kind would do, so that hiring is worth naming. help: what would do instead.
    of_any_unit is true where another unit would meet with it too.
    """

    text: str
    kind: str
    holders: tuple[int, ...] = ()
    more_helps: bool = True
    help: str = ""
    of_any_unit: bool = False


def units_of(layout: Layout, need: Need, kind: str) -> list[PickupUnit]:
    """The units of this kind in the snapshot, by tag."""
    pickups = layout.house.snapshot.pickups
    return sorted(
        (u for u in pickups if u.pickup is need.pickup and u.kind == kind), key=lambda unit: unit.tag
    )


def kinds_for(layout: Layout, need: Need) -> list[str]:
    """The kinds that may be used, best first: those listed, and for a DI all others too."""
    if need.pickup is not Pickup.DI:
        return list(need.kinds)
    others = sorted({unit.kind for unit in layout.house.snapshot.pickups if unit.pickup is Pickup.DI})
    return list(dict.fromkeys((*need.kinds, *others)))


def told(missing: Missing) -> str:
    return f"{missing.tag} ({missing.kind}){'' if missing.why.startswith('is ') else ':'} {missing.why}"


def in_the_way(layout: Layout, need: Need) -> list[Obstacle]:
    """Everything that keeps an empty input empty."""
    shared = list(_shared(layout, need))
    if need.pickup is Pickup.LINE:
        return shared
    kinds = kinds_for(layout, need)
    if not kinds:
        noun = "kind of microphone is listed" if need.pickup is Pickup.MIC else "DI is free"
        return [*shared, Obstacle(f"no {noun} for {need.source}", "DI", more_helps=need.pickup is Pickup.DI)]
    found = [obstacle for kind in kinds if (obstacle := of_kind(layout, need, kind))]
    said = {obstacle.kind for obstacle in shared}
    own = [obstacle for obstacle in found if obstacle.kind not in said]
    return shared + own * (len(own) == len(kinds))


# One kind of unit


def of_kind(layout: Layout, need: Need, kind: str) -> Obstacle | None:
    """What keeps every unit of this kind from the input, or None where one is free and would do."""
    units = units_of(layout, need, kind)
    if not units:
        return Obstacle(f"no {words.kind(kind)} is free{_out(layout, kind)}", kind)
    return (
        _unwished(need, kind, units)
        or _too_loud(need, kind, units)
        or _dead_pattern(need, kind, units)
        or _too_heavy(layout, need, kind, units)
        or _taken(layout, need, kind, units)
        or _no_stand(layout, need, units)
        or _no_outlet(layout, need, units)
        or _no_channel(layout, need, units)
    )


def _out(layout: Layout, kind: str) -> str:
    out = [
        f"{missing.tag} {missing.why}" for missing in layout.house.snapshot.missing if missing.kind == kind
    ]
    return f" ({'; '.join(out)})" if out else ""


def _unwished(need: Need, kind: str, units: Sequence[PickupUnit]) -> Obstacle | None:
    if not need.wish_binds or any(wish_met(need, unit) for unit in units):
        return None
    return Obstacle(f"the wish “{need.wish}” binds and no {words.kind(kind)} meets it", need.wish)


def _loud_enough(need: Need, units: Sequence[PickupUnit]) -> list[PickupUnit]:
    return [u for u in units if takes_level(need, u) and (not need.wish_binds or wish_met(need, u))]


def _fitting(need: Need, units: Sequence[PickupUnit]) -> list[PickupUnit]:
    return [unit for unit in _loud_enough(need, units) if has_pattern(need, unit)]


def _carried(layout: Layout, need: Need, units: Sequence[PickupUnit]) -> list[PickupUnit]:
    return [unit for unit in _fitting(need, units) if serves(layout.house.snapshot, need, unit)]


def _free(layout: Layout, need: Need, units: Sequence[PickupUnit]) -> list[PickupUnit]:
    return [unit for unit in _carried(layout, need, units) if layout.has_room(unit)]


def _too_heavy(layout: Layout, need: Need, kind: str, units: Sequence[PickupUnit]) -> Obstacle | None:
    stand = stand_of(need)
    if stand is None or _carried(layout, need, units):
        return None
    figures = layout.house.snapshot.stand_figures[stand]
    least = min(unit.weight_kg for unit in _fitting(need, units) if unit.weight_kg is not None)
    what = f"{words.stand(stand)} that carries {words.kg(least)}"
    text = f"a {words.stand(stand)} carries {words.kg(figures.load_kg or 0)}, every free {words.kind(kind)} weighs more"
    return Obstacle(f"{text}, and no stronger stand is known to reach as far", what)


def _no_stand(layout: Layout, need: Need, units: Sequence[PickupUnit]) -> Obstacle | None:
    """Only a stronger kind than the wanted one would carry what is free, and none of that is left."""
    free = _free(layout, need, units)
    if any(layout.stand_for(need, unit) for unit in free):
        return None
    kinds = stands_for(layout.house.snapshot, need, free[0])
    users = tuple(number for kind in kinds for number in layout.stand_users(kind))
    which = words.listed([words.stand(kind) for kind in kinds], "or")
    held = f": {_held(users)}" if users else ""
    return Obstacle(f"no {which} is left, which {free[0].tag} needs{held}", kinds[0], users)


def _no_outlet(layout: Layout, need: Need, units: Sequence[PickupUnit]) -> Obstacle | None:
    free = [unit for unit in _free(layout, need, units) if layout.stand_for(need, unit)]
    if any(layout.outlet_for(unit) for unit in free):
        return None
    users = tuple(layout.users([u for u in layout.house.snapshot.pickups if u.tag in layout.plugged]))
    text = f"the supply of {free[0].tag} needs a mains outlet and the room has none left"
    return Obstacle(text, "mains outlet", users, more_helps=False, help=OUTLET)


def _dead_pattern(need: Need, kind: str, units: Sequence[PickupUnit]) -> Obstacle | None:
    if _fitting(need, units):
        return None
    wanted = " or ".join(need.patterns)
    text = f"{need.source} wants {wanted}, and every free {words.kind(kind)} has lost that pattern"
    return Obstacle(text, f"{kind} that does {wanted}")


def _too_loud(need: Need, kind: str, units: Sequence[PickupUnit]) -> Obstacle | None:
    if _loud_enough(need, units) or need.peak_spl_db is None:
        return None
    most = max(u.max_spl_db + max(0.0, u.pad_db) for u in units if u.max_spl_db is not None)
    peak, limit = words.db(need.peak_spl_db), f"more than {words.db(most)}, pad included"
    text = f"the source peaks at {peak} and no free {words.kind(kind)} takes {limit}"
    return Obstacle(text, f"{kind} that takes {peak}")


def _taken(layout: Layout, need: Need, kind: str, units: Sequence[PickupUnit]) -> Obstacle | None:
    fitting = _carried(layout, need, units)
    if any(layout.has_room(unit) for unit in fitting):
        return None
    users = layout.users(fitting)
    if not users:
        return Obstacle(f"no {words.kind(kind)} is free", kind)
    which = f"{'the only' if len(fitting) == 1 else 'every'} {words.kind(kind)} that fits"
    return Obstacle(f"{which} is on {words.inputs(users)}", kind, tuple(users))


def _no_channel(layout: Layout, need: Need, units: Sequence[PickupUnit]) -> Obstacle | None:
    free = [u for u in _free(layout, need, units) if layout.stand_for(need, u) and layout.outlet_for(u)]
    if any(layout.channel_for(need, unit) for unit in free):
        return None
    users = tuple(layout.channel_users())
    if not layout.free_channels():
        return Obstacle("no preamp channel is left", CHANNEL, users)
    if not layout.channels_within(need, free[0]):
        return _no_gain(layout, need, free[0], users)
    if not any(layout.reachable(p) for p, _ in layout.free_channels()):
        text = f"{free[0].tag} is free, but no patch point is left to the preamps that are"
        return Obstacle(text, "patch point", users, more_helps=False, help=PATCH_POINT)
    return Obstacle(f"{free[0].tag} is free, but {_channel_wanted(layout, free[0])}", CHANNEL, users)


def _no_gain(layout: Layout, need: Need, unit: PickupUnit, users: tuple[int, ...]) -> Obstacle:
    """No channel that is left can be set to what the unit asks for, with its pad or without."""
    peaks = layout.house.peaks[need.number]
    pad = next(pads(peaks, unit))
    gain = gain_with(peaks, unit, pad) or 0.0
    ranges = [range_of(layout.house.preamps[p], layout.channel(p, n)) for p, n in layout.free_channels()]
    asks = f"{unit.tag} is free, but it asks for {words.db(round(gain, 1))} of gain"
    if any(gains._replace(noisy_above_db=inf).holds(gain) for gains in ranges):
        return Obstacle(f"{asks}, where every channel that is left is noisy", CHANNEL, users)
    most, least = max(gains.most_db for gains in ranges), min(gains.least_db for gains in ranges)
    bound = f"{words.db(most)} at most" if gain > most else f"{words.db(least)} at least"
    text = f"{asks}, and the channels that are left give {bound}"
    return Obstacle(
        text, CHANNEL, users, help=f"bring in a preamp that gives {words.db(round(gain, 1))} of gain"
    )


def _channel_wanted(layout: Layout, unit: PickupUnit) -> str:
    feed = feed_of(unit)
    if feed is Feed.OFF:
        known = unit.phantom is Phantom.MUST_NOT
        must_not = "it must not have phantom" if known else "whether it stands phantom is unknown"
        return f"{must_not} and no channel with phantom off is left"
    if feed is Feed.ON and not layout.channel_with_phantom():
        return "no channel with working phantom is left"
    return "the phantom supply of the preamps left has no current to spare"


# What every kind shares


def _shared(layout: Layout, need: Need) -> Iterator[Obstacle]:
    """Lines, recorder inputs, stands and channels that are used up."""
    snapshot = layout.house.snapshot
    everyone = tuple(layout.house.needs[p].number for p in sorted(layout.places))
    for total, noun in ((snapshot.lines, "line"), (snapshot.recorder_inputs, "recorder input")):
        if len(everyone) >= max(0, total):
            use = _held(everyone) if total > 0 else "the room has none"
            yield Obstacle(f"no {noun} is left: {use}", noun, everyone, more_helps=False, of_any_unit=True)
    yield from _stands(layout, need)
    yield from _cables(layout, need)
    if need.pickup is not Pickup.LINE and not layout.free_channels():
        users = tuple(layout.channel_users())
        use = _held(users) if users else "none is free"
        yield Obstacle(f"no preamp channel is left: {use}{_out(layout, CHANNEL)}", CHANNEL, users)


def _held(users: Sequence[int]) -> str:
    """input 3 has the only one; all 18 are in use."""
    return f"{words.inputs(users)} has the only one" if len(users) == 1 else f"all {len(users)} are in use"


def _cables(layout: Layout, need: Need) -> Iterator[Obstacle]:
    metres = layout.short_of_cable(need)
    if metres is None:
        return
    longer = f" of {words.metres(metres)} or more" if metres else ""
    needs = (layout.house.needs[p] for p in sorted(layout.places))
    users = tuple(n.number for n in needs if wants_cable(n) and (n.cable_m or 0.0) >= metres)
    use = f"the other inputs that need so much have all {len(users)}" if users else "the house has none free"
    yield Obstacle(
        f"no microphone cable{longer} is left: {use}",
        f"microphone cable{longer}",
        users,
        help=CABLE,
        of_any_unit=True,
    )


def _stands(layout: Layout, need: Need) -> Iterator[Obstacle]:
    stand = stand_of(need)
    if stand is None or layout.stands_left(stand) > 0 or _stronger_would_do(layout, need, stand):
        return
    users = tuple(layout.stand_users(stand))
    use = f": {_held(users)}" if users else ""
    yield Obstacle(f"no {words.stand(stand)} is left{use}{_out(layout, stand)}", stand, users)


def _stronger_would_do(layout: Layout, need: Need, stand: str) -> bool:
    """True where something free is too heavy for that kind of stand anyway, and a stronger one is left."""
    units = [u for u in layout.house.snapshot.pickups if serves(layout.house.snapshot, need, u)]
    heavy = (
        u for u in units if layout.has_room(u) and stands_for(layout.house.snapshot, need, u) != (stand,)
    )
    return any(layout.stand_for(need, unit) for unit in heavy)
