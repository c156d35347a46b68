"""Inserts given out: by hand, against every possibility on small cases, and checked by what shares no code."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import log2

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tasks.planning.chain_checker import chain_violations
from tasks.planning.chain_records import (
    ChainHouse,
    ChainNeed,
    Chains,
    InsertChannel,
    InsertUnit,
    InsertWish,
    Spot,
)
from tasks.planning.chain_settings import settings_of
from tasks.planning.chains import chains
from tasks.planning.snapshot import Missing

# Common practice, no single source: 3 to 1 with 2 to 4 dB, automatic, into 20 to 1 at the fastest release.
COMPRESS = InsertWish(
    "compressor", "compressor", "variable", 3, attack="automatic", release="automatic", reduction_db=(2, 4)
)
LIMIT = InsertWish("limiter", "limiter", "fixed", 20, attack=0.75, release=1)
LIFT = InsertWish("lift", "equaliser", lift_db=(1.5, 3), lift_hz=10_000)


def unit(tag: str, kind: str = "compressor", channels: int = 2, **more: object) -> InsertUnit:
    made = InsertUnit(
        tag,
        f"Model {tag}",
        kind,
        tuple(InsertChannel(n) for n in range(1, channels + 1)),
        **{"threshold": "variable", "ratios": (2.0, 4.0)} if kind == "compressor" else {},
    )
    return replace(made, **more)  # type: ignore[arg-type]


def limiter(tag: str, **more: object) -> InsertUnit:
    return unit(tag, "limiter", **{"threshold": "fixed", "ratios": (20.0,), "channels": 1, **more})


def need(number: int, *wishes: InsertWish, **more: object) -> ChainNeed:
    return ChainNeed(number, f"Source {number}", wishes, **more)  # type: ignore[arg-type]


def got(made: Chains) -> dict[tuple[int, int], Spot]:
    return {(row.number, row.place): (row.unit, row.channel) for row in made.inserts}


def given_out(*needs: ChainNeed, units: list[InsertUnit], missing: tuple[Missing, ...] = ()) -> Chains:
    house = ChainHouse(needs, tuple(units), missing)
    made = chains(house)
    assert chain_violations(house, made) == []
    assert made.proven
    assert made == chains(house), "same input, same chains"
    return made


def test_a_voice_goes_through_the_compressor_into_the_limiter() -> None:
    made = given_out(need(1, COMPRESS, LIMIT), units=[limiter("Bar"), unit("Scale")])
    assert got(made) in ({(1, 1): ("Scale", c), (1, 2): ("Bar", 1)} for c in (1, 2))
    assert made.unmet == ()


def test_the_lead_part_has_the_only_limiter_and_the_other_is_told_who_has_it() -> None:
    made = given_out(need(1, LIMIT, priority=2), need(2, LIMIT, priority=1), units=[limiter("Bar")])
    assert got(made) == {(2, 1): ("Bar", 1)}
    assert made.unmet[0].number == 1
    assert "goes to input 2" in made.unmet[0].reason
    assert "Hire a limiter with fixed threshold." in made.unmet[0].help


def test_a_stereo_source_has_two_linked_channels_of_one_unit_or_nothing() -> None:
    pair = need(1, COMPRESS, pair=7), need(2, COMPRESS, pair=7)
    apart = [unit("A", channels=1), unit("B", channels=1), unit("C")]
    made = given_out(*pair, units=apart)
    assert not made.inserts
    assert len(made.unmet) == 2
    assert "No compressor within reach has two linked channels" in made.unmet[0].reason
    made = given_out(*pair, units=[*apart, unit("D", linked=True)])
    assert got(made) == {(1, 1): ("D", 1), (2, 1): ("D", 2)}
    assert ("Stereo", "linked, both channels alike") in made.inserts[0].settings


def test_linked_channels_are_neighbours() -> None:
    wide = unit("D", linked=True, channels=4)
    gone = replace(wide, channels=(wide.channels[0], wide.channels[2]))
    pair = need(1, COMPRESS, pair=7), need(2, COMPRESS, pair=7)
    assert not given_out(*pair, units=[gone]).inserts


def test_an_equaliser_that_is_set_together_serves_one_source() -> None:
    together = unit("Hem", "equaliser", linked=True)
    made = given_out(need(1, LIFT), need(2, LIFT), units=[together])
    assert len(made.inserts) == 1
    assert len(given_out(need(1, LIFT), need(2, LIFT), units=[replace(together, linked=False)]).inserts) == 2


def test_one_unit_is_fetched_for_two_inputs_and_what_stands_here_is_taken_first() -> None:
    away = [unit("Far", here=False), unit("Further", here=False)]
    made = given_out(need(1, COMPRESS), need(2, COMPRESS), units=away)
    assert len({row.unit for row in made.inserts}) == 1
    made = given_out(need(1, COMPRESS), need(2, COMPRESS), units=[*away, unit("Near")])
    assert {row.unit for row in made.inserts} == {"Near"}


def test_the_dearer_of_two_alike_is_spared_and_a_doubtful_one_comes_last() -> None:
    made = given_out(need(1, COMPRESS), units=[unit("Dear", value=4000), unit("Plain", value=600)])
    assert made.inserts[0].unit == "Plain"
    doubtful = replace(
        unit("Plain"), channels=(InsertChannel(1, ("back, not yet heard",), last_choice=True),)
    )
    made = given_out(need(1, COMPRESS), units=[unit("Dear", value=4000), doubtful])
    assert made.inserts[0].unit == "Dear"
    made = given_out(need(1, COMPRESS), units=[doubtful])
    assert made.inserts[0].why[-1] == "With a limit: back, not yet heard."


def test_what_an_input_had_before_it_keeps_though_something_nearer_has_come_back() -> None:
    had = need(1, COMPRESS, before=(("Far", 2),))
    made = given_out(had, units=[unit("Far", here=False), unit("Near")])
    assert got(made) == {(1, 1): ("Far", 2)}
    assert "The input had it before." in made.inserts[0].why


@pytest.mark.parametrize(
    ("ratios", "kind", "compresses", "limits"),
    [
        ((2.0, 4.0), "compressor", True, False),
        ((4.0, 20.0), "compressor", True, True),
        ((20.0,), "compressor", False, True),
        ((3.0,), "limiter", True, False),
        ((), "compressor", True, False),
        ((), "limiter", False, True),
    ],
)
def test_what_a_unit_can_do_goes_before_what_it_is_called(
    ratios: tuple[float, ...], kind: str, compresses: bool, limits: bool
) -> None:
    """Limiting begins to be felt at about 10 to 1: common practice, no single source."""
    only = [unit("Box", kind, channels=1, ratios=ratios)]
    assert bool(given_out(need(1, COMPRESS), units=only).inserts) == compresses
    assert bool(given_out(need(1, LIMIT), units=only).inserts) == limits


def test_valves_are_wanted_and_not_had_and_what_is_out_is_named() -> None:
    valves = replace(COMPRESS, valves=True)
    out = Missing("Old lamp", "compressor", "out of use (hums), no date yet")
    made = given_out(need(1, valves), units=[unit("Plain")], missing=(out,))
    assert made.unmet[0].reason == (
        "No valve compressor within reach works and is free; Old lamp: out of use (hums), no date yet."
    )
    assert given_out(need(1, valves), units=[unit("Lamp", valves=True)]).inserts[0].unit == "Lamp"


def test_what_belongs_to_another_room_is_asked_for_and_never_taken() -> None:
    away = (unit("Loose", kept="Mix Loft"), unit("Linked", linked=True, kept="Mix Loft"))
    pair = need(1, COMPRESS, pair=7), need(2, COMPRESS, pair=7)
    made = chains(ChainHouse(pair, (), elsewhere=away))
    assert not made.inserts
    assert made.unmet[0].help[0] == "Ask for Linked: it is free then and belongs to Mix Loft."
    assert not any("Loose" in text for text in made.unmet[0].help)


def test_without_time_for_a_proof_it_says_so_and_breaks_no_rule() -> None:
    house = ChainHouse(tuple(need(n, COMPRESS, LIMIT) for n in range(1, 9)), (unit("A"), limiter("B")))
    made = chains(house, seconds=0)
    assert chain_violations(house, made) == []
    assert not made.proven
    assert all("not proven" in row.why[-1] for row in made.inserts)
    assert len(made.inserts) == 3
    assert len(made.unmet) == 13


def test_nothing_is_wanted_and_nothing_is_said() -> None:
    assert given_out(need(1), units=[unit("A")]) == Chains((), ())


def test_settings_name_only_the_knobs_that_the_unit_has() -> None:
    """Ratio about 3 to 1, 2 to 4 dB, automatic; 20 to 1, fastest release, attack three quarters of the way to the
    fastest: common practice, no single source."""
    full = unit("A", ratios=(2.0, 4.0, 8.0), attack_ms=(30, 10, 3, 1, 0.3, 0.1), automatic=True)
    assert dict(settings_of(COMPRESS, full, False)) == {
        "Ratio": "4 to 1",
        "Timing": "automatic",
        "Reduction": "2 to 4 dB on the needle where it is loud",
        "Threshold": "down until the needle shows that",
    }
    steps = limiter("B", attack_ms=(30, 10, 3, 1, 0.1), release_ms=(50, 800))
    said = dict(settings_of(LIMIT, steps, False))
    assert (said["Ratio"], said["Attack"], said["Release"]) == (
        "20 to 1, its only one",
        "1 ms",
        "50 ms, fastest",
    )
    assert said["Input"] == "up until it catches only peaks"
    assert "Threshold" not in said
    free = replace(steps, attack_ms=(0.02, 0.8))
    assert (
        dict(settings_of(LIMIT, free, False))["Attack"]
        == "three quarters of the way from 0.8 ms to the fastest, 0.02 ms"
    )
    bare = unit("C", ratios=(), threshold="")
    assert dict(settings_of(COMPRESS, bare, False)) == {
        "Reduction": "2 to 4 dB on the needle where it is loud"
    }
    eq = unit("D", "equaliser", bands=4)
    assert dict(settings_of(LIFT, eq, False))["Lift"] == "1.5 to 3 dB near 10 kHz, the top one of 4 bands"


# Against every possibility


def _units(draw: st.DrawFn) -> tuple[InsertUnit, ...]:
    made = []
    for n in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["compressor", "limiter", "equaliser"]))
        numbers = draw(st.sets(st.integers(1, 3), min_size=1, max_size=2))
        doubt, limits = draw(st.booleans()), ("noisy",) if draw(st.booleans()) else ()
        made.append(
            InsertUnit(
                f"U{n}",
                f"Model {n}",
                kind,
                tuple(InsertChannel(c, limits, doubt and c == min(numbers)) for c in sorted(numbers)),
                threshold=draw(st.sampled_from(["variable", "fixed", ""])),
                ratios=draw(st.sampled_from([(), (2.0, 4.0), (4.0, 20.0), (20.0,)])),
                linked=draw(st.booleans()),
                valves=draw(st.booleans()),
                here=draw(st.booleans()),
                value=draw(st.sampled_from([0, 1500, 5000])),
            )
        )
    return tuple(made)


@st.composite
def houses(draw: st.DrawFn) -> ChainHouse:
    wishes = [COMPRESS, LIMIT, LIFT, replace(COMPRESS, valves=True)]
    chain = st.lists(st.sampled_from(wishes), max_size=2).map(tuple)
    needs: list[ChainNeed] = []
    units = _units(draw)
    spots = [None, *((u.tag, c.number) for u in units for c in u.channels)]
    for n in range(draw(st.integers(1, 2))):
        wanted, priority = draw(chain), draw(st.integers(1, 3))
        pair = n + 1 if draw(st.booleans()) else None
        for _ in range(2 if pair else 1):
            before = tuple(draw(st.sampled_from(spots)) for _ in wanted)
            needs.append(ChainNeed(len(needs) + 1, f"S{len(needs)}", wanted, priority, pair, before))
    return ChainHouse(tuple(needs), units)


def _slots(house: ChainHouse, need: ChainNeed, wish: InsertWish) -> list[list[Spot] | None]:
    """Every place for one input's wish or, of a pair, for both; None for going without."""
    found: list[list[Spot] | None] = [None]
    for box in house.units:
        dynamics = {"compressor", "limiter"}
        if box.ratios:
            able = any((r >= 10) == (wish.kind == "limiter") for r in box.ratios) and box.kind in dynamics
        else:
            able = box.kind == wish.kind
        if (wish.kind == "equaliser" or not able) and (wish.kind, box.kind) != ("equaliser", "equaliser"):
            continue
        if wish.valves and not box.valves:
            continue
        if need.pair is None:
            found += [[(box.tag, c.number)] for c in box.channels]
        elif box.linked:
            numbers = [c.number for c in box.channels]
            found += [[(box.tag, n), (box.tag, n + 1)] for n in numbers if n + 1 in numbers]
    return found


def _cost_of(house: ChainHouse, halves: list[ChainNeed], place: int, spots: list[Spot]) -> int:
    wish = halves[0].wishes[place]
    box = next(u for u in house.units if u.tag == spots[0][0])
    cost = 0
    if wish.threshold and box.threshold != wish.threshold:
        cost += 400 if box.threshold else 50
    if wish.ratio and not box.ratios:
        cost += 50
    elif wish.ratio:
        fit = [r for r in box.ratios if (r >= 10) == (wish.kind == "limiter")]
        cost += min(round(60 * abs(log2(r / wish.ratio))) for r in fit)
    for half, spot in zip(halves, spots, strict=True):
        channel = next(c for c in box.channels if c.number == spot[1])
        cost += 4000 * channel.last_choice + 4 * bool(channel.limits)
        cost += 250 * (half.before[place] not in (None, spot))
    return cost


def _cheapest(house: ChainHouse) -> tuple[list[int], int]:
    """The fewest wishes left out of priority 1, 2, 3, and of those the least cost, found by trying everything."""
    first_halves = [n for n in house.needs if n.pair is None or n.pair not in _pairs_before(house, n)]
    jobs = [(n, place) for n in first_halves for place in range(len(n.wishes))]
    best: tuple[list[int], int] | None = None
    for choice in product(*(_slots(house, n, n.wishes[place]) for n, place in jobs)):
        used = [spot for spots in choice if spots for spot in spots]
        whole = [
            spots[0][0]
            for spots in choice
            if spots and any(u.tag == spots[0][0] and u.linked and u.kind == "equaliser" for u in house.units)
        ]
        if len(set(used)) < len(used) or len(set(whole)) < len(whole):
            continue
        lost, cost = [0, 0, 0], 0
        for (n, place), spots in zip(jobs, choice, strict=True):
            halves = [m for m in house.needs if m is n or (n.pair is not None and m.pair == n.pair)]
            if spots is None:
                lost[min(h.priority for h in halves) - 1] += 1
            else:
                cost += _cost_of(house, halves, place, spots)
        for box in house.units:
            if any(tag == box.tag for tag, _ in used):
                cost += 6 + min(3, box.value // 1000) + 200 * (not box.here)
        best = min(best, (lost, cost)) if best else (lost, cost)
    assert best
    return best


def _pairs_before(house: ChainHouse, need: ChainNeed) -> set[int | None]:
    return {other.pair for other in house.needs if other.number < need.number}


def _worth(house: ChainHouse, made: Chains) -> tuple[list[int], int]:
    lost, cost, boxes = [0, 0, 0], 0, {row.unit for row in made.inserts}
    by_number = {n.number: n for n in house.needs}
    for n in house.needs:
        if n.pair is not None and n.pair in _pairs_before(house, n):
            continue
        halves = [m for m in house.needs if m is n or (n.pair is not None and m.pair == n.pair)]
        for place in range(len(n.wishes)):
            numbers = [h.number for h in halves]
            rows = [r for r in made.inserts if r.number in numbers and r.place == place + 1]
            if rows:
                cost += _cost_of(
                    house,
                    [by_number[r.number] for r in rows],
                    place,
                    [(r.unit, r.channel) for r in rows],
                )
            else:
                lost[min(h.priority for h in halves) - 1] += 1
    for box in house.units:
        cost += (6 + min(3, box.value // 1000) + 200 * (not box.here)) * (box.tag in boxes)
    return lost, cost


@settings(max_examples=60, deadline=None)
@given(houses())
def test_no_other_way_of_giving_them_out_is_better(house: ChainHouse) -> None:
    made = chains(house)
    assert chain_violations(house, made) == []
    assert made.proven
    assert _worth(house, made) == _cheapest(house)


# The checker finds each broken rule


HOUSE = ChainHouse(
    (need(1, COMPRESS, pair=1), need(2, COMPRESS, pair=1), need(3, LIMIT)),
    (unit("D", linked=True, channels=4), limiter("Bar"), unit("E", channels=2)),
)


@pytest.mark.parametrize(
    ("number", "change", "said"),
    [
        (1, {"unit": "E"}, "not on neighbouring channels"),
        (1, {"channel": 4}, "not on neighbouring channels"),
        (1, {"channel": 2}, "used 2 times"),
        (3, {"unit": "D", "channel": 3}, "can't be"),
        (3, {"unit": "Nobody"}, "can't be used"),
        (3, {"channel": 2}, "can't be used"),
        (3, {"place": 2}, "nobody wants"),
        (3, {"why": ()}, "does not say why"),
        (3, {"settings": (("Ratio", "12 to 1"),)}, "doesn't have"),
    ],
)
def test_the_checker_finds_what_is_wrong(number: int, change: dict[str, object], said: str) -> None:
    made = chains(HOUSE)
    made = replace(made, inserts=tuple(sorted(made.inserts, key=lambda row: row.number)))
    first = replace(made.inserts[0], channel=1), replace(made.inserts[1], channel=2)
    good = replace(made, inserts=(*first, made.inserts[2]))
    assert chain_violations(HOUSE, good) == []
    rows = tuple(replace(r, **change) if r.number == number else r for r in good.inserts)  # type: ignore[arg-type]
    assert any(said in text for text in chain_violations(HOUSE, replace(good, inserts=rows)))


def test_the_checker_misses_no_lost_half_no_unlinked_pair_and_no_lost_wish() -> None:
    made = chains(HOUSE)
    half = replace(made, inserts=tuple(row for row in made.inserts if row.number != 2))
    assert any("only one half" in text for text in chain_violations(HOUSE, half))
    assert any("answered 0 times" in text for text in chain_violations(HOUSE, half))
    apart = replace(HOUSE, units=tuple(replace(u, linked=False) for u in HOUSE.units))
    assert any("can't be linked" in text for text in chain_violations(apart, made))
    whole = ChainHouse((need(1, LIFT), need(2, LIFT)), (unit("Q", "equaliser"),))
    together = replace(whole, units=(replace(whole.units[0], linked=True),))
    assert any("set as a whole" in text for text in chain_violations(together, chains(whole)))
    lamps = ChainHouse((need(1, replace(COMPRESS, valves=True)),), (unit("L", valves=True),))
    dark = replace(lamps, units=(replace(lamps.units[0], valves=False),))
    assert any("wants valves" in text for text in chain_violations(dark, chains(lamps)))
