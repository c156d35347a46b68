"""An independent check of chains against the hard rules. It shares no code with the stage that makes them.

Everything is worked out anew from the records.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from tasks.planning.chain_records import ChainHouse, Chains, Inserted, InsertUnit, InsertWish


def chain_violations(house: ChainHouse, chains: Chains) -> list[str]:
    """Every broken rule in a sentence; empty for chains that hold."""
    checks = (_answered_once, _exist, _once_each, _can_do_it, _as_a_whole, _pairs, _ratios)
    return [text for check in checks for text in check(house, chains)]


def _answered_once(house: ChainHouse, chains: Chains) -> Iterator[str]:
    wanted = [(need.number, place, wish) for need in house.needs for place, wish in enumerate(need.wishes, 1)]
    answers = [(row.number, row.place, row.wish) for row in chains.inserts]
    answers += [(row.number, row.place, row.wish) for row in chains.unmet]
    for number, place, wish in wanted:
        times = answers.count((number, place, wish))
        if times != 1:
            yield f"input {number} wants a {wish.kind} in place {place}, and that is answered {times} times"
    yield from (
        f"input {n} has a {w.kind} that nobody wants" for n, p, w in answers if (n, p, w) not in wanted
    )
    for got in chains.inserts:
        if not got.why or not all(got.why):
            yield f"input {got.number} does not say why it has {got.unit}"
    for lost in chains.unmet:
        if not lost.reason:
            yield f"input {lost.number} does not say why it has no {lost.wish.kind}"


def _exist(house: ChainHouse, chains: Chains) -> Iterator[str]:
    free = {(unit.tag, channel.number) for unit in house.units for channel in unit.channels}
    for row in chains.inserts:
        if (row.unit, row.channel) not in free:
            yield f"input {row.number} has {row.unit} channel {row.channel}, which can't be used"


def _once_each(house: ChainHouse, chains: Chains) -> Iterator[str]:
    used = Counter((row.unit, row.channel) for row in chains.inserts)
    yield from (f"{tag} channel {number} is used {n} times" for (tag, number), n in used.items() if n > 1)


def _with_units(house: ChainHouse, chains: Chains) -> Iterator[tuple[Inserted, InsertUnit]]:
    by_tag = {unit.tag: unit for unit in house.units}
    return ((row, by_tag[row.unit]) for row in chains.inserts if row.unit in by_tag)


def _can_do_it(house: ChainHouse, chains: Chains) -> Iterator[str]:
    for row, unit in _with_units(house, chains):
        if not _does(row.wish, unit):
            yield f"input {row.number} wants a {row.wish.kind}, which {unit.tag} ({unit.kind}) can't be"
        if row.wish.valves and not unit.valves:
            yield f"input {row.number} wants valves, and {unit.tag} has none"


def _does(wish: InsertWish, unit: InsertUnit) -> bool:
    if "equaliser" in (wish.kind, unit.kind):
        return wish.kind == unit.kind
    if not unit.ratios:
        return wish.kind == unit.kind
    return max(unit.ratios) >= 10 if wish.kind == "limiter" else min(unit.ratios) < 10


def _as_a_whole(house: ChainHouse, chains: Chains) -> Iterator[str]:
    """An equaliser whose channels are set together serves one mono source or the two halves of one pair."""
    pairs = {need.number: need.pair for need in house.needs}
    for unit in house.units:
        if unit.kind == "equaliser" and unit.linked:
            rows = [row for row in chains.inserts if row.unit == unit.tag]
            sources = {(pairs.get(row.number) or f"input {row.number}", row.place) for row in rows}
            if len(sources) > 1:
                yield f"{unit.tag} is set as a whole and serves {len(sources)} sources"


def _pairs(house: ChainHouse, chains: Chains) -> Iterator[str]:
    """Both halves of a pair have linked neighbours of one unit, or neither has anything."""
    at = {(row.number, row.place): row for row in chains.inserts}
    units = {unit.tag: unit for unit in house.units}
    halves: dict[int, list[int]] = {}
    wishes = {need.number: need.wishes for need in house.needs}
    for need in house.needs:
        if need.pair is not None:
            halves.setdefault(need.pair, []).append(need.number)
    for both in halves.values():
        if len(both) != 2:
            continue
        left, right = both
        for place, (one, other) in enumerate(zip(wishes[left], wishes[right], strict=False), 1):
            if one == other:
                yield from _pair(left, right, at.get((left, place)), at.get((right, place)), units)


def _pair(
    left: int, right: int, one: Inserted | None, other: Inserted | None, units: dict[str, InsertUnit]
) -> Iterator[str]:
    if one is None and other is None:
        return
    if one is None or other is None:
        yield f"of the pair of inputs {left} and {right} only one half has an insert"
    elif one.unit != other.unit or abs(one.channel - other.channel) != 1:
        yield f"inputs {left} and {right} are a pair and not on neighbouring channels of one unit"
    elif one.unit in units and not units[one.unit].linked:
        yield f"inputs {left} and {right} are a pair, and the channels of {one.unit} can't be linked"


def _ratios(house: ChainHouse, chains: Chains) -> Iterator[str]:
    for row, unit in _with_units(house, chains):
        said = dict(row.settings).get("Ratio")
        if said is None:
            continue
        ratio = float(said.split()[0])
        if ratio not in unit.ratios:
            yield f"input {row.number} is to be set to {ratio:g} to 1, which {unit.tag} doesn't have"
