"""Which equaliser, compressor or limiter each input gets: a stage of its own after the plan, proven best.

Channels are given out one by one or, to a pair, as two linked neighbours of one unit; whatever can't be met is said.
Same input, same chains.
"""

from __future__ import annotations

from dataclasses import replace

from tasks.planning.chain_costs import ChainCosts, jobs, slots
from tasks.planning.chain_records import ChainHouse, Chains
from tasks.planning.chain_words import inserted, unmet

SECONDS = 2.0
NOT_PROVEN = "The best found in the time; not proven to be the best of all."


def chains(house: ChainHouse, costs: ChainCosts | None = None, seconds: float = SECONDS) -> Chains:
    """Every wish is answered once: with an insert, or with what is missing. seconds bounds the solver's time."""
    weights = costs or ChainCosts()
    all_jobs = list(jobs(house))
    possible = [slots(job, house, weights) for job in all_jobs]
    taken, cost, bound = [], 0, 0
    if any(possible):
        from tasks.planning.chain_model import (
            solved,  # takes a second to load: only who has wishes waits for it
        )

        answer = solved(all_jobs, possible, weights, seconds)
        taken, cost, bound = answer.taken, answer.cost, answer.bound
    got = [(all_jobs[j], slot, possible[j]) for j, slot in enumerate(taken) if slot]
    lost = [(job, possible[j]) for j, job in enumerate(all_jobs) if not taken or taken[j] is None]
    used = {(slot.unit.tag, channel.number) for _, slot, _ in got for channel in slot.channels}
    given = [(job, slot) for job, slot, _ in got]
    doubt = () if cost == bound else (NOT_PROVEN,)
    rows = (row for job, slot, all_ in got for row in inserted(job, slot, all_, used, weights))
    return Chains(
        inserts=tuple(replace(row, why=(*row.why, *doubt)) for row in rows),
        unmet=tuple(row for job, all_ in lost for row in unmet(job, all_, house, given)),
        proven=cost == bound,
        cost=cost,
        bound=bound,
    )
