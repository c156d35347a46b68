"""What keeps units of a kind from an input: asked where a first choice lost or an input stays empty."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tasks.planning import words
from tasks.planning.layout import Layout
from tasks.planning.rules import Feed, feed_of, stand_of, takes_level, wish_met
from tasks.planning.snapshot import Need, Phantom, Pickup, PickupUnit


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


def obstacle(layout: Layout, need: Need, kind: str) -> str | None:
    """What keeps every unit of this kind from the input, or None where one is free and would do."""
    units = units_of(layout, need, kind)
    if not units:
        return f"no {kind} is free" + _away(layout, kind)
    return (
        _unwished(need, kind, units)
        or _too_loud(need, kind, units)
        or _taken(layout, need, kind, units)
        or _no_channel(layout, need, kind, units)
    )


def _away(layout: Layout, kind: str) -> str:
    out = [
        f"{missing.tag}: {missing.why}" for missing in layout.house.snapshot.missing if missing.kind == kind
    ]
    return f" ({'; '.join(out)})" if out else ""


def _unwished(need: Need, kind: str, units: Sequence[PickupUnit]) -> str | None:
    if need.wish_binds and not any(wish_met(need, unit) for unit in units):
        return f"the wish “{need.wish}” binds and no {kind} meets it"
    return None


def _fitting(need: Need, units: Sequence[PickupUnit]) -> list[PickupUnit]:
    return [u for u in units if takes_level(need, u) and (not need.wish_binds or wish_met(need, u))]


def _too_loud(need: Need, kind: str, units: Sequence[PickupUnit]) -> str | None:
    if _fitting(need, units) or need.peak_spl_db is None:
        return None
    most = max(u.max_spl_db + max(0.0, u.pad_db) for u in units if u.max_spl_db is not None)
    peak = words.db(need.peak_spl_db)
    return f"the source peaks at {peak} and no free {kind} takes more than {words.db(most)}, pad included"


def _taken(layout: Layout, need: Need, kind: str, units: Sequence[PickupUnit]) -> str | None:
    fitting = _fitting(need, units)
    if any(layout.has_room(unit) for unit in fitting):
        return None
    users = layout.users(fitting)
    if not users:
        return f"no {kind} is free"
    which = f"the only {kind} that fits" if len(fitting) == 1 else f"every {kind} that fits"
    return f"{which} is on {words.inputs(users)}"


def _no_channel(layout: Layout, need: Need, kind: str, units: Sequence[PickupUnit]) -> str | None:
    free = [unit for unit in _fitting(need, units) if layout.has_room(unit)]
    if any(layout.channel_for(unit) for unit in free):
        return None
    if not layout.free_channels():
        return "no preamp channel is left"
    return f"{free[0].tag} is free, but {_channel_wanted(layout, free[0])}"


def _channel_wanted(layout: Layout, unit: PickupUnit) -> str:
    if feed_of(unit) is Feed.OFF:
        known = (
            "must not have phantom"
            if unit.phantom is Phantom.MUST_NOT
            else "may not have phantom, its entry is unknown"
        )
        return f"it {known} and no channel with phantom off is left"
    if feed_of(unit) is Feed.ON and layout.channel_with_phantom():
        return "the phantom supply of the preamps left has no current to spare"
    if feed_of(unit) is Feed.ON:
        return "no channel with working phantom is left"
    return "no channel is left that suits it"


def shared_shortages(layout: Layout, need: Need) -> Iterator[str]:
    """What is used up for every kind alike: lines, recorder inputs, stands, channels."""
    snapshot, planned = layout.house.snapshot, len(layout.places)
    for total, noun in ((snapshot.lines, "line"), (snapshot.recorder_inputs, "recorder input")):
        if planned >= max(0, total):
            yield f"no {noun} is left: " + (f"all {total} are in use" if total > 0 else "the room has none")
    yield from _stands(layout, need)
    if need.pickup is not Pickup.LINE and not layout.free_channels():
        total = len(layout.taken)
        yield "no preamp channel is left" + (f": all {total} are in use" if total else "")


def _stands(layout: Layout, need: Need) -> Iterator[str]:
    stand = stand_of(need)
    if stand is None or layout.stands_left(stand) > 0:
        return
    used = layout.stands_used[stand]
    yield (
        f"no {stand} is left"
        + (f": {words.count(used, stand)} in use" if used else "")
        + _away(layout, stand)
    )
