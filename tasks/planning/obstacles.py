"""What keeps an input from being served: asked where a first choice lost, and where an input stays empty."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tasks.planning import words
from tasks.planning.layout import Layout
from tasks.planning.rules import Feed, feed_of, has_pattern, stand_of, takes_level, wish_met
from tasks.planning.snapshot import Missing, Need, Phantom, Pickup, PickupUnit

CHANNEL = "preamp channel"


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One thing in the way: a sentence, the kind of thing that is short, and the inputs that hold it.

    more_helps is true where one more of the kind would do, so that hiring is worth naming.
    """

    text: str
    kind: str
    holders: tuple[int, ...] = ()
    more_helps: bool = True


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
        or _taken(layout, need, kind, units)
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
    fitting = _fitting(need, units)
    if any(layout.has_room(unit) for unit in fitting):
        return None
    users = layout.users(fitting)
    if not users:
        return Obstacle(f"no {words.kind(kind)} is free", kind)
    which = f"{'the only' if len(fitting) == 1 else 'every'} {words.kind(kind)} that fits"
    return Obstacle(f"{which} is on {words.inputs(users)}", kind, tuple(users))


def _no_channel(layout: Layout, need: Need, units: Sequence[PickupUnit]) -> Obstacle | None:
    free = [unit for unit in _fitting(need, units) if layout.has_room(unit)]
    if any(layout.channel_for(need, unit) for unit in free):
        return None
    users = tuple(layout.channel_users())
    if not layout.free_channels():
        return Obstacle("no preamp channel is left", CHANNEL, users)
    return Obstacle(f"{free[0].tag} is free, but {_channel_wanted(layout, need, free[0])}", CHANNEL, users)


def _channel_wanted(layout: Layout, need: Need, unit: PickupUnit) -> str:
    feed, gain = feed_of(unit), layout.house.gain_db(need, unit)
    if gain is not None and not layout.quiet_channels(need, unit):
        return f"it asks for {words.db(round(gain))} of gain, where every channel that is left is noisy"
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
            yield Obstacle(f"no {noun} is left: {use}", noun, everyone, more_helps=False)
    yield from _stands(layout, need)
    if need.pickup is not Pickup.LINE and not layout.free_channels():
        users = tuple(layout.channel_users())
        use = _held(users) if users else "none is free"
        yield Obstacle(f"no preamp channel is left: {use}{_out(layout, CHANNEL)}", CHANNEL, users)


def _held(users: Sequence[int]) -> str:
    """input 3 has the only one; all 18 are in use."""
    return f"{words.inputs(users)} has the only one" if len(users) == 1 else f"all {len(users)} are in use"


def _stands(layout: Layout, need: Need) -> Iterator[Obstacle]:
    stand = stand_of(need)
    if stand is None or layout.stands_left(stand) > 0:
        return
    users = tuple(layout.stand_users(stand))
    use = f": {_held(users)}" if users else ""
    yield Obstacle(f"no {words.stand(stand)} is left{use}{_out(layout, stand)}", stand, users)
