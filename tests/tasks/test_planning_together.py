"""Two sessions that want the same units: the split that leaves least out, against every other split."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from tasks.planning.checker import violations
from tasks.planning.costs import Costs
from tasks.planning.plan import plan
from tasks.planning.snapshot import CableKind, Phantom, Plan, Snapshot, Switching
from tasks.planning.together import GivenUp, given_up, shares
from tests.tasks.planning_houses import STANDS, house, lists, mic, mic_need, microphones, preamp, preamps
from tests.tasks.planning_worth import best_worth, seating_of, worth

RACKS = [preamp("P-1", 2, Switching.PER_CHANNEL), preamp("P-2", 2, Switching.PER_CHANNEL)]


def planned(snapshots: Sequence[Snapshot]) -> list[Plan]:
    split = shares(snapshots)
    assert split is not None
    return [plan(share) for share in split]


def units_of(made: Plan) -> list[str | None]:
    return [row.unit for row in made.inputs]


def test_who_can_do_with_another_gives_way() -> None:
    units = [mic("R-1", "ribbon"), mic("D-1")]
    choosy = house([mic_need(1, "ribbon")], units, RACKS)
    easy = house([mic_need(1, "ribbon", "moving coil")], units, RACKS)
    assert units_of(plan(easy)) == ["R-1"]
    for order in ([choosy, easy], [easy, choosy]):
        made = planned(order)
        assert {tuple(units_of(each)) for each in made} == {("R-1",), ("D-1",)}
        assert units_of(made[order.index(choosy)]) == ["R-1"]


def test_a_lead_part_goes_before_an_ordinary_one_of_the_other_session() -> None:
    only = [mic("R-1", "ribbon")]
    ordinary = house([mic_need(1, "ribbon", priority=2)], only, RACKS)
    lead = house([mic_need(1, "ribbon", priority=1)], only, RACKS)
    without, has_it = planned([ordinary, lead])
    assert (units_of(without), units_of(has_it)) == ([], ["R-1"])


def test_a_preamp_goes_to_one_session_and_stands_are_counted_once() -> None:
    units = [mic(f"D-{number}") for number in range(4)]
    wants = [mic_need(1, stand="clip"), mic_need(2, stand="clip")]
    both = [
        house(wants, units, RACKS[:1], stands={"clip": 4}),
        house(wants, units, RACKS, stands={"clip": 4}),
    ]
    first, second = planned(both)
    assert {row.preamp for row in first.inputs} == {"P-1"}
    assert {row.preamp for row in second.inputs} == {"P-2"}
    scarce = planned([replace(each, stands={"clip": 3}) for each in both])
    assert sum(len(each.inputs) for each in scarce) == 3


def test_the_long_cable_goes_to_whoever_needs_it() -> None:
    units = [mic("D-1"), mic("D-2")]
    cables = (CableKind("5 m", 1, 5.0), CableKind("15 m", 1, 15.0))
    near = house([mic_need(1, cable_m=4.0)], units, RACKS, cables=cables)
    far = house([mic_need(1, cable_m=12.0)], units, RACKS, cables=cables)
    assert [[row.cable for row in made.inputs] for made in planned([near, far])] == [["5 m"], ["15 m"]]
    both_far = planned([far, far])
    assert sum(len(made.inputs) for made in both_far) == 1


def test_what_somebody_gives_up_is_told_with_who_has_it_and_what_they_have_instead() -> None:
    units = [mic("R-1", "ribbon"), mic("D-1")]
    both = [
        house([mic_need(1, "ribbon")], units, RACKS),
        house([mic_need(1, "ribbon", "moving coil")], units, RACKS),
    ]
    alone = [plan(each) for each in both]
    got = planned(both)
    assert given_up(alone, got, 0) == []
    assert given_up(alone, got, 1) == [GivenUp("source 1", "R-1", 0, "source 1", "D-1")]


@st.composite
def two_lists_in_one_house(draw: st.DrawFn) -> tuple[Snapshot, Snapshot]:
    """The same units are near for the one and far for the other."""
    units = [draw(microphones(number)) for number in range(draw(st.integers(1, 3)))]
    racks = [draw(preamps(number, 2)) for number in range(draw(st.integers(1, 2)))]
    stands = dict.fromkeys(STANDS, 9)
    first = Snapshot(draw(lists(2)), tuple(units), tuple(racks), stands, 9, 9)
    moved = [replace(unit, here=not unit.here) for unit in units]
    return first, Snapshot(draw(lists(2)), tuple(moved), tuple(racks), stands, 9, 9)


def every_split(first: Snapshot, second: Snapshot) -> Iterator[tuple[Snapshot, Snapshot]]:
    tags = [*(unit.tag for unit in first.pickups), *(rack.tag for rack in first.preamps)]
    for chosen in product((0, 1), repeat=len(tags)):
        mine = dict(zip(tags, chosen, strict=True))
        yield only(first, {tag for tag in tags if mine[tag] == 0}), only(second, {t for t in tags if mine[t]})


def only(snapshot: Snapshot, tags: set[str]) -> Snapshot:
    return replace(
        snapshot,
        pickups=tuple(unit for unit in snapshot.pickups if unit.tag in tags),
        preamps=tuple(rack for rack in snapshot.preamps if rack.tag in tags),
    )


def left_out_and_rest(snapshot: Snapshot, value: tuple[int, ...]) -> tuple[Counter[int], int]:
    """What a worth says: inputs left out by priority, and the other costs."""
    priorities = sorted({need.priority for need in snapshot.needs})
    return Counter(dict(zip(priorities, value, strict=False))), value[-1]


def together(snapshots: Sequence[Snapshot], values: Sequence[tuple[int, ...]]) -> tuple[int, ...]:
    parts = [left_out_and_rest(*each) for each in zip(snapshots, values, strict=True)]
    return (*(sum(part[0][p] for part in parts) for p in (1, 2, 3)), sum(part[1] for part in parts))


@settings(max_examples=60, deadline=None)
@given(two_lists_in_one_house())
def test_no_other_split_is_better_and_nothing_is_given_twice(both: tuple[Snapshot, Snapshot]) -> None:
    made = planned(both)
    assert [violations(each, got) for each, got in zip(both, made, strict=True)] == [[], []]
    used = [{row.unit for row in got.inputs} | {row.preamp for row in got.inputs} for got in made]
    assert used[0] & used[1] <= {None}
    values = [worth(each, seating_of(each, got), Costs()) for each, got in zip(both, made, strict=True)]
    best = min(
        together(both, [best_worth(part, Costs(), each) for part, each in zip(split, both, strict=True)])
        for split in every_split(*both)
    )
    assert together(both, values) == best


def test_the_same_sessions_are_split_the_same_way_each_time() -> None:
    units = [mic(f"K-{number}", "large condenser", phantom=Phantom.NEEDS) for number in range(5)]
    both = [house([mic_need(n, "large condenser") for n in range(1, 4)], units, RACKS) for _ in range(2)]
    assert [units_of(each) for each in planned(both)] == [units_of(each) for each in planned(both)]
