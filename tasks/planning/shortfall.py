"""What could not be met: exactly what is short, and what would help, the cheapest first."""

from __future__ import annotations

from collections.abc import Iterator

from tasks.planning import words
from tasks.planning.layout import Layout
from tasks.planning.obstacles import kinds_for, obstacle, shared_shortages
from tasks.planning.rules import stand_of, takes_level
from tasks.planning.snapshot import Need, Pickup, Unfilled


def unfilled(layout: Layout, p: int) -> Unfilled:
    need = layout.house.needs[p]
    reason = words.sentence("; ".join(dict.fromkeys(_reasons(layout, need))) or OUT_OF_TIME)
    return Unfilled(need.number, need.label, need.source, reason, tuple(dict.fromkeys(_help(layout, need))))


OUT_OF_TIME = "the time for planning ran out before a place was found"


def _reasons(layout: Layout, need: Need) -> Iterator[str]:
    shared = list(shared_shortages(layout, need))
    yield from shared
    if need.pickup is Pickup.LINE:
        return
    kinds = kinds_for(layout, need)
    if not kinds:
        yield (
            f"no kind of microphone is listed for {need.source}"
            if need.pickup is Pickup.MIC
            else "no DI is free"
        )
    obstacles = [obstacle(layout, need, kind) for kind in kinds]
    if all(obstacles):
        yield from (text for text in obstacles if text)


def _help(layout: Layout, need: Need) -> Iterator[str]:
    yield from _coming_back(layout, need)
    yield from _swap(layout, need)
    yield from _other_stand(layout, need)
    yield from _leave_out(layout, need)
    yield from _hire(layout, need)


def _coming_back(layout: Layout, need: Need) -> Iterator[str]:
    """Units that are out or taken and would have served, as the house knows them."""
    short = {*kinds_for(layout, need), *([stand_of(need)] if stand_of(need) else [])}
    if need.pickup is Pickup.DI:
        short |= {m.kind for m in layout.house.snapshot.missing if m.kind.lower().split()[-1:] == ["di"]}
    if need.pickup is not Pickup.LINE:
        short |= {m.kind for m in layout.house.snapshot.missing if "channel" in m.kind or "preamp" in m.kind}
    for missing in layout.house.snapshot.missing:
        if missing.kind in short:
            yield words.sentence(f"{missing.tag} ({missing.kind}) {missing.why}")


def _swap(layout: Layout, need: Need) -> Iterator[str]:
    """Kinds that aren't listed for this source, yet free and able to take its level."""
    if need.pickup is not Pickup.MIC:
        return
    free = [u for u in layout.house.snapshot.pickups if u.pickup is need.pickup and u.kind not in need.kinds]
    usable = [u for u in free if layout.has_room(u) and takes_level(need, u) and layout.channel_for(u)]
    for kind in dict.fromkeys(sorted(u.kind for u in usable)):
        tag = min(u.tag for u in usable if u.kind == kind)
        yield f"Allow a {kind} for it: {tag} is free."


def _other_stand(layout: Layout, need: Need) -> Iterator[str]:
    stand = stand_of(need)
    if stand is None or layout.stands_left(stand) > 0:
        return
    for kind in sorted(layout.house.snapshot.stands):
        if kind != stand and layout.stands_left(kind) > 0:
            yield f"Use a {kind} if it reaches: {layout.stands_left(kind)} free."


def _leave_out(layout: Layout, need: Need) -> Iterator[str]:
    lesser = [n for p in layout.places if (n := layout.house.needs[p]).priority >= need.priority]
    if lesser:
        last = max(lesser, key=lambda n: (n.priority, n.number))
        yield f"Use fewer inputs: leaving out input {last.number} ({last.label}) may free what is missing."


def _hire(layout: Layout, need: Need) -> Iterator[str]:
    stand = stand_of(need)
    if stand and layout.stands_left(stand) <= 0:
        yield f"Hire or borrow one {stand} for this session."
    kinds = kinds_for(layout, need)
    if need.pickup is not Pickup.LINE and kinds and all(obstacle(layout, need, kind) for kind in kinds):
        yield f"Hire or borrow one {kinds[0]} for this session."
