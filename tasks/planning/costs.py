"""What the planner weighs once every hard rule holds: one small table that a house can change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from tasks.planning.snapshot import Need


@dataclass(frozen=True, slots=True)
class Costs:
    """Costs without a unit, whole numbers, highest concern first. A field says what one occurrence costs.

    Leaving an input out stands above all of these: `unfilled_costs` works that out for each list.
    last_choice outweighs every liking of one input: what is not yet heard is taken where nothing else is left.
    A split pair costs more than two steps of liking, since it spoils two inputs at once.
    further_preamp is paid by each input for each preamp before its own in rack order: those here first,
    the larger first. So one preamp is filled before the next is begun, and the patch stays short.
    """

    last_choice: int = 4000
    split_pair: int = 1200
    step_down_in_kind: int = 400
    wish_not_met: int = 300
    fetched: int = 200
    pair_apart: int = 150
    further_preamp: int = 6
    phantom_switch_on: int = 5
    has_a_limit: int = 4
    dear: tuple[int, ...] = (0, 1, 2, 3)
    dear_step: int = 1000

    def spare(self, value: int) -> int:
        """The cost of taking out a unit of this value, by steps of dear_step in the house's currency."""
        return self.dear[max(0, min(value // self.dear_step, len(self.dear) - 1))]


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
