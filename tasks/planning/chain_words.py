"""Why an input has this insert, and why a wish could not be met, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tasks.planning import words
from tasks.planning.chain_costs import ChainCosts, Job, Slot, cost_of_unit, may_serve, places
from tasks.planning.chain_records import EQUALISER, ChainHouse, Inserted, InsertUnit, InsertWish, Spot, Unmet
from tasks.planning.chain_settings import ratio_of, settings_of

MOST_SAID = 3


def inserted(
    job: Job, slot: Slot, others: Sequence[Slot], used: set[Spot], costs: ChainCosts
) -> Iterator[Inserted]:
    settings = settings_of(job.wish, slot.unit, len(job.needs) == 2)
    why = (*_liked(job, slot), _runner_up(slot, others, used, costs))
    for need, channel in zip(job.needs, slot.channels, strict=True):
        yield Inserted(
            number=need.number,
            label=need.label,
            place=job.place,
            wish=job.wish,
            unit=slot.unit.tag,
            channel=channel.number,
            settings=settings,
            why=(*why, *(words.sentence(f"with a limit: {limit}") for limit in channel.limits)),
        )


def _liked(job: Job, slot: Slot) -> Iterator[str]:
    unit, wish = slot.unit, job.wish
    yield words.sentence(f"{_is(unit)}, {_compared(wish, unit)}")
    if len(job.needs) == 2:
        how = "set together" if unit.kind == EQUALISER else "linked"
        both = words.inputs([need.number for need in job.needs])
        yield f"Its channels are {how}: {both} are one stereo source."
    yield "It stands in this room." if unit.here else "It has to be fetched."
    if job.needs[0].before[job.place - 1 : job.place] == ((unit.tag, slot.channels[0].number),):
        yield "The input had it before."


def _is(unit: InsertUnit) -> str:
    valves = "valve " if unit.valves else ""
    threshold = f" with {unit.threshold} threshold" if unit.threshold else ""
    return f"{unit.tag} is a {valves}{unit.kind}{threshold}"


def _compared(wish: InsertWish, unit: InsertUnit) -> str:
    said = []
    if wish.threshold and unit.threshold and wish.threshold != unit.threshold:
        said.append(f"{wish.threshold} threshold is wanted")
    ratio = ratio_of(wish, unit)
    if wish.ratio and ratio is not None and ratio != wish.ratio:
        said.append(f"{ratio:g} to 1 is its nearest to {wish.ratio:g} to 1")
    return f"though {words.listed(said)}" if said else "as wanted"


def _runner_up(slot: Slot, others: Sequence[Slot], used: set[Spot], costs: ChainCosts) -> str:
    free = [
        other
        for other in others
        if other.unit.tag != slot.unit.tag
        and not any((other.unit.tag, channel.number) in used for channel in other.channels)
    ]
    if not free:
        return "Nothing else that would do is left."
    best = min(free, key=lambda other: (other.cost + cost_of_unit(other.unit, costs), other.unit.tag))
    fetched = "" if best.unit.here else ", which has to be fetched"
    return f"Next best: {best.unit.tag} ({best.unit.model}){fetched}."


def unmet(
    job: Job, possible: Sequence[Slot], house: ChainHouse, given: Sequence[tuple[Job, Slot]]
) -> Iterator[Unmet]:
    noun = name_of(job.wish)
    reason, help_ = _missing(job, possible, house, given)
    others = [u for u in house.elsewhere if may_serve(job.wish, u) and places(u, len(job.needs))]
    asked = [f"Ask for {u.tag}: it is free then and belongs to {u.kept}." for u in others[:MOST_SAID]]
    for need in job.needs:
        yield Unmet(need.number, need.label, job.place, job.wish, reason, (*help_, *asked, f"Hire a {noun}."))


def name_of(wish: InsertWish) -> str:
    """limiter with fixed threshold; valve compressor."""
    threshold = f" with {wish.threshold} threshold" if wish.threshold else ""
    return f"{'valve ' if wish.valves else ''}{wish.kind}{threshold}"


def _missing(
    job: Job, possible: Sequence[Slot], house: ChainHouse, given: Sequence[tuple[Job, Slot]]
) -> tuple[str, tuple[str, ...]]:
    kind = f"{'valve ' if job.wish.valves else ''}{job.wish.kind}"
    out = [f"{each.tag}: {each.why}" for each in house.missing if each.kind == job.wish.kind]
    if possible:
        theirs = {slot.unit.tag for slot in possible}
        rivals = {need.number for other, slot in given if slot.unit.tag in theirs for need in other.needs}
        what = f"{kind} within reach"
        held = f"linked channels of any {what} go" if len(job.needs) == 2 else f"every {what} goes"
        held = f"{held} to {words.inputs(sorted(rivals))}"
        all_ = words.inputs(sorted({*rivals, job.needs[0].number}))
        return _with(held, out), (f"Say which of {all_} goes without.",)
    if len(job.needs) == 2:
        return _with(f"no {kind} within reach has two linked channels that work and are free", out), ()
    return _with(f"no {kind} within reach works and is free", out), ()


def _with(reason: str, out: list[str]) -> str:
    return words.sentence("; ".join([reason, *out[:MOST_SAID]]))
