"""Plans for many generated houses, each with two overlapping sessions and a fault that comes afterwards.

`python -m tests.many_houses 1000` prints what was counted and every rule that a plan broke. The same number gives
the same houses. Each plan is looked at by the checker, which shares no code with the planner, and by what stands
here: nothing may be given to both sessions, and nothing counted may be given out more often than there is.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tasks.planning.checker import violations
from tasks.planning.plan import plan
from tasks.planning.snapshot import Plan, Snapshot
from tasks.planning.together import shares
from tests.tasks.planning_houses import lists, snapshots

MOST_NEEDS, LEAST_UNITS, MOST_UNITS, MOST_PREAMPS = 12, 8, 20, 4


@dataclass
class Tally:
    """What was seen. broken: sentences of the checker and of this module."""

    houses: int = 0
    plans: int = 0
    filled: int = 0
    unfilled: int = 0
    not_proven: int = 0
    faults: int = 0
    seconds: float = 0.0
    broken: list[str] = field(default_factory=list)

    def add(self, snapshot: Snapshot, made: Plan) -> None:
        self.plans += 1
        self.filled += len(made.inputs)
        self.unfilled += len(made.unfilled)
        self.not_proven += made.solver.status not in ("proven", "nothing to plan")
        self.broken += violations(snapshot, made)


@st.composite
def cases(draw: st.DrawFn) -> tuple[Snapshot, Snapshot, int]:
    """Two lists in one house, what stands here for the one standing elsewhere for the other, and which input fails."""
    size = {"most_needs": MOST_NEEDS, "most_units": MOST_UNITS, "most_preamps": MOST_PREAMPS}
    first = draw(snapshots(**size, least_units=LEAST_UNITS))
    other = replace(first, needs=draw(lists(MOST_NEEDS)))
    return first, other, draw(st.integers(0, MOST_NEEDS))


def look_at(case: tuple[Snapshot, Snapshot, int], tally: Tally) -> None:
    both, failing = case[:2], case[2]
    tally.houses += 1
    parts = shares(both)
    if parts is None:
        tally.broken.append("two sessions could not be split in time")
        return
    made = [plan(part) for part in parts]
    for whole, got in zip(both, made, strict=True):
        tally.add(whole, got)
    tally.broken += given_twice(both[0], made)
    used = [row for row in made[0].inputs if row.unit]
    if used:
        tally.faults += 1
        broken = used[failing % len(used)].unit
        left = replace(parts[0], pickups=tuple(unit for unit in parts[0].pickups if unit.tag != broken))
        again = plan(left)
        tally.add(left, again)
        tally.broken += given_twice(both[0], [again, made[1]])


def given_twice(whole: Snapshot, plans: list[Plan]) -> Iterator[str]:
    """What both sessions have, and what is counted and given out more often than there is."""
    holders = [
        {name for row in made.inputs for name in (row.unit, row.preamp) if name is not None} for made in plans
    ]
    yield from (f"{tag} is given to both sessions" for tag in sorted(holders[0] & holders[1]))
    stands = Counter(row.stand for made in plans for row in made.inputs if row.stand)
    cables = Counter(row.cable for made in plans for row in made.inputs if row.cable)
    there = {cable.name: cable.count for cable in whole.cables or ()}
    for name, used, free in (
        *((name, n, whole.stands.get(name, 0)) for name, n in stands.items()),
        *((name, n, there.get(name, 0)) for name, n in cables.items()),
    ):
        if used > free:
            yield f"{used} of {name} are given to two sessions and {free} are free"


def tally_of(houses: int) -> Tally:
    tally = Tally()

    @settings(
        max_examples=houses,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(cases())
    def each(case: tuple[Snapshot, Snapshot, int]) -> None:
        look_at(case, tally)

    began = time.perf_counter()
    each()
    tally.seconds = time.perf_counter() - began
    return tally


def main(arguments: list[str]) -> int:
    found = tally_of(int(arguments[0]) if arguments else 1000)
    print(
        f"{found.houses} houses with two sessions each, {found.faults} faults afterwards: {found.plans} plans, "
        f"{found.filled} inputs filled, {found.unfilled} not, {found.not_proven} plans not proven, "
        f"{len(found.broken)} broken rules, {found.seconds:.0f} s"
    )
    for text in found.broken:
        print(text)
    return 1 if found.broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
