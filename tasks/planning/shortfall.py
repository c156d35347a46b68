"""What could not be met: exactly what is short, and what would help, the cheapest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tasks.planning import words
from tasks.planning.layout import Layout
from tasks.planning.obstacles import CHANNEL, Obstacle, in_the_way, told
from tasks.planning.rules import may_serve, stand_of, takes_level, wish_met
from tasks.planning.snapshot import Need, Pickup, PickupUnit, Unfilled

OUT_OF_TIME = "the time for planning ran out before a place was found"


def unfilled(layout: Layout, p: int) -> Unfilled:
    need = layout.house.needs[p]
    obstacles = in_the_way(layout, need)
    reason = "; ".join(dict.fromkeys(obstacle.text for obstacle in obstacles)) or OUT_OF_TIME
    help_ = dict.fromkeys(words.sentence(text) for text in _help(layout, need, obstacles))
    return Unfilled(need.number, need.label, need.source, words.sentence(reason), tuple(help_))


def _help(layout: Layout, need: Need, obstacles: Sequence[Obstacle]) -> Iterator[str]:
    if not obstacles:
        yield "plan again with more time"
    yield from _coming_back(layout, obstacles)
    if need.pickup is not Pickup.LINE and not any(obstacle.of_any_unit for obstacle in obstacles):
        yield from _drop_the_wish(layout, need)
        yield from _move_off(layout, need)
        yield from _swap(layout, need)
    yield from _other_stand(layout, need)
    yield from _leave_out(layout, need, obstacles)
    yield from _get_more(layout, need, obstacles)


def _coming_back(layout: Layout, obstacles: Sequence[Obstacle]) -> Iterator[str]:
    """Things that are out or taken and would have served, as the house knows them."""
    short = {obstacle.kind for obstacle in obstacles}
    return (told(missing) for missing in layout.house.snapshot.missing if missing.kind in short)


def _free(layout: Layout, need: Need) -> list[PickupUnit]:
    """Units of the right pickup that are not used and have a channel to go to, by tag."""
    units = sorted(layout.house.snapshot.pickups, key=lambda unit: unit.tag)
    return [
        u
        for u in units
        if u.pickup is need.pickup
        and layout.has_room(u)
        and layout.stand_for(need, u)
        and layout.outlet_for(u)
        and layout.channel_for(need, u)
    ]


def _drop_the_wish(layout: Layout, need: Need) -> Iterator[str]:
    for unit in _free(layout, need):
        listed = need.pickup is Pickup.DI or unit.kind in need.kinds
        if need.wish_binds and listed and takes_level(need, unit) and not wish_met(need, unit):
            yield f"do without the wish “{need.wish}”: {unit.tag} ({words.kind(unit.kind)}) is free"
            return


def _move_off(layout: Layout, need: Need) -> Iterator[str]:
    """Free units of a listed kind that are only too tender: by how much the level must come down."""
    tender = [u for u in _free(layout, need) if u.kind in need.kinds and not takes_level(need, u)]
    for unit in tender[:1]:
        takes = (unit.max_spl_db or 0) + max(0.0, unit.pad_db)
        less = words.db((need.peak_spl_db or 0) - takes)
        yield f"place {unit.tag} ({words.kind(unit.kind)}) further off, where the peak is lower by {less}"


def _swap(layout: Layout, need: Need) -> Iterator[str]:
    """Kinds that aren't listed for this source, yet free and able to take its level."""
    others = [u for u in _free(layout, need) if not may_serve(need, u) and takes_level(need, u)]
    kinds = {u.kind: u for u in reversed(others) if need.pickup is Pickup.MIC and u.kind not in need.kinds}
    return (f"allow a {words.kind(kind)} for it: {kinds[kind].tag} is free" for kind in sorted(kinds))


def _other_stand(layout: Layout, need: Need) -> Iterator[str]:
    stand = stand_of(need)
    if stand is None or layout.stands_left(stand) > 0:
        return
    for kind in sorted(layout.house.snapshot.stands):
        if kind != stand and layout.stands_left(kind) > 0:
            yield f"use a {words.stand(kind)} if it reaches: {layout.stands_left(kind)} free"


def _leave_out(layout: Layout, need: Need, obstacles: Sequence[Obstacle]) -> Iterator[str]:
    holders = {number for obstacle in obstacles for number in obstacle.holders}
    lesser = [n for n in layout.house.needs if n.number in holders and n.priority >= need.priority]
    if lesser:
        last = max(lesser, key=lambda n: (n.priority, n.number))
        yield f"use fewer inputs: leaving out input {last.number} ({last.label}) may free what is missing"


def _get_more(layout: Layout, need: Need, obstacles: Sequence[Obstacle]) -> Iterator[str]:
    for obstacle in obstacles:
        if obstacle.help:
            yield obstacle.help
        elif obstacle.kind in ("line", "recorder input"):
            yield f"plan it in a room with more {words.plural(obstacle.kind)}"
        elif not obstacle.more_helps:
            yield f"name a kind of microphone for {need.source}"
        elif obstacle.kind == CHANNEL:
            yield "bring in one more preamp"
        else:
            one = (
                words.stand
                if obstacle.kind in (stand_of(need), *layout.house.snapshot.stands)
                else words.kind
            )
            yield f"hire or borrow one {one(obstacle.kind)} for this session"
