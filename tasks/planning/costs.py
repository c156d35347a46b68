"""What the planner weighs once every hard rule holds: one table of named costs that a house can change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from tasks.planning.snapshot import Need

MOST_DEAR = 3  # steps of value that make a difference
MOST_WANTED = 3  # entries in order for one source; “never” counts as one step more than the last of them


@dataclass(frozen=True, slots=True)
class Costs:
    """Costs without a unit, whole numbers, highest concern first. A field says what one occurrence costs.

    Leaving an input out stands above all of these: `unfilled_costs` works that out for each list.
    further_preamp is paid by each input for each preamp before its own in rack order: those here first,
    the larger first. So one preamp is filled before the next is begun, and the patch stays short.
    dear is paid for each dear_step of a unit's value in the house's currency, MOST_DEAR times at most.
    """

    last_choice: int = 2_800_000
    torn_down: int = 1_400_000
    wish_not_met: int = 700_000
    against_engineer: int = 140_000
    against_house: int = 28_000
    split_pair: int = 5_500
    unmatched_pair: int = 2_700
    step_down_in_kind: int = 2_600
    not_as_before: int = 1_300
    fetched: int = 420
    pair_apart: int = 200
    stronger_stand: int = 40
    further_preamp: int = 12
    phantom_switch_on: int = 12
    has_a_limit: int = 4
    dear: int = 1
    dear_step: int = 1000

    def spare(self, value: int) -> int:
        """The cost of taking out a unit of this value."""
        return self.dear * max(0, min(value // self.dear_step, MOST_DEAR))


@dataclass(frozen=True, slots=True)
class Concern:
    """A cost by its name. rank: the place in the order, those of one rank beside each other; times: how often one
    input can pay it at most (racks and kinds counted as in a large house)."""

    field: str
    name: str
    rank: int
    times: int
    means: str


CONCERNS = (
    Concern("last_choice", "A last choice", 1, 2, "What is suspected, or back and not yet heard, is used."),
    Concern("torn_down", "Set up already", 2, 1, "What is ticked off as set up gets another unit."),
    Concern(
        "wish_not_met", "The list’s own wish", 3, 1, "What the list asks for by kind or model isn’t met."
    ),
    Concern(
        "against_engineer",
        "The engineer’s preference",
        4,
        MOST_WANTED + 1,
        "For each place further down in what the session’s engineer prefers for the source.",
    ),
    Concern(
        "against_house",
        "The house’s preference",
        5,
        MOST_WANTED + 1,
        "For each place further down in what the house prefers for the source.",
    ),
    Concern(
        "split_pair", "A pair of two models", 6, 1, "The halves of a stereo source get different models."
    ),
    Concern(
        "unmatched_pair",
        "A matched pair",
        6,
        1,
        "The halves of a stereo source get units that weren’t matched.",
    ),
    Concern(
        "step_down_in_kind",
        "The catalogue’s order",
        6,
        6,
        "For each place further down in the catalogue’s order of kinds for the source.",
    ),
    Concern(
        "not_as_before",
        "As before",
        7,
        1,
        "An input doesn’t get the unit that it had: in this session’s last plan, or in the job’s last session.",
    ),
    Concern("fetched", "Left where it is", 8, 2, "A unit or a preamp has to be fetched from another room."),
    Concern("pair_apart", "A pair side by side", 9, 1, "The halves of a stereo source aren’t neighbours."),
    Concern(
        "stronger_stand", "The usual stand", 9, 1, "A stronger kind of stand is taken for a heavy microphone."
    ),
    Concern(
        "further_preamp",
        "A preamp’s channels together",
        9,
        12,
        "For each preamp in rack order before the one that an input is on.",
    ),
    Concern("phantom_switch_on", "Phantom left off", 9, 1, "One more phantom switch is on."),
    Concern("has_a_limit", "Sparing the fragile", 10, 2, "A unit or a channel with a known limit is used."),
    Concern("dear", "Sparing the costly", 10, MOST_DEAR, "For each 1,000 of a unit’s value, three at most."),
)
LEAST, MOST = 0, 10_000_000


def out_of_order(costs: Costs) -> Iterator[tuple[Concern, Concern]]:
    """Concerns that no longer outweigh all lower ones together on one input, each with the next below."""
    below: list[Concern] = []
    for _, same in groupby(reversed(CONCERNS), key=lambda concern: concern.rank):
        rank = list(same)
        together = sum(getattr(costs, each.field) * each.times for each in below)
        if below:
            yield from (
                (each, below[-1]) for each in reversed(rank) if getattr(costs, each.field) <= together
            )
        below += rank


def unfilled_costs(needs: Iterable[Need], most_of_the_rest: int) -> dict[int, int]:
    """For each priority the cost of leaving one input out.

    Strict by construction: one input left out costs more than everything of lower concern together, where
    most_of_the_rest bounds all other costs. So lead parts come first, then the number of ordinary parts.
    """
    cost = most_of_the_rest + 1
    found: dict[int, int] = {}
    for priority, how_many in sorted(Counter(need.priority for need in needs).items(), reverse=True):
        found[priority] = cost
        cost *= how_many + 1
    return found
