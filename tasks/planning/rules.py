"""What one unit can do for one input, and what it asks of the channel behind it."""

from __future__ import annotations

import math
import re
from enum import IntEnum
from typing import NamedTuple

from tasks.planning.costs import MOST_WANTED, Costs
from tasks.planning.snapshot import (
    Liking,
    Need,
    Phantom,
    Pickup,
    PickupUnit,
    PreampChannel,
    PreampUnit,
    Switching,
)


class Feed(IntEnum):
    """What a unit asks of the phantom switch of its channel."""

    OFF = 0
    ANY = 1
    ON = 2


class Demand(NamedTuple):
    """A feed, and the current drawn through it in hundredths of a milliampere (0 where it can't matter).

    gain: a bit for each range of gain in the house that holds what is asked for, or GAIN_UNKNOWN, which has them all.
    """

    feed: Feed
    draw: int
    gain: int = 0


class Range(NamedTuple):
    """The gains in dB that a channel can be set to; above the last of them it is noisy. Infinite where not known."""

    least_db: float
    most_db: float
    noisy_above_db: float

    @property
    def everything(self) -> bool:
        return self == ALL_GAINS

    def holds(self, gain_db: float) -> bool:
        return self.least_db - A_HAIR_DB <= gain_db <= min(self.most_db, self.noisy_above_db) + A_HAIR_DB


GAIN_UNKNOWN = -1
A_HAIR_DB = 1e-6
ALL_GAINS = Range(-math.inf, math.inf, math.inf)


def feed_of(unit: PickupUnit) -> Feed:
    """Unknown is treated as must not; a unit on its own supply needs nothing from the channel."""
    if unit.phantom in (Phantom.MUST_NOT, Phantom.UNKNOWN):
        return Feed.OFF
    if unit.phantom is Phantom.NEEDS and not unit.own_supply:
        return Feed.ON
    return Feed.ANY


def draw_of(unit: PickupUnit) -> int:
    """Hundredths of a milliampere, rounded up, that one input of the unit takes from a live channel."""
    if unit.current_ma is None or unit.own_supply or feed_of(unit) is Feed.OFF:
        return 0
    return max(0, math.ceil(unit.current_ma * 100 - 1e-6))


def switch_of(preamp: PreampUnit, channel: int) -> int:
    """The number, from 1, of the phantom switch that feeds this channel."""
    if preamp.switching is Switching.PER_CHANNEL:
        return channel
    if preamp.switching is Switching.PER_BANK:
        return (channel - 1) // max(1, preamp.bank_size) + 1
    return 1


def is_shared(preamp: PreampUnit) -> bool:
    """True where one switch that can be set feeds several channels."""
    return preamp.switching in (Switching.PER_BANK, Switching.WHOLE_UNIT)


def can_feed(preamp: PreampUnit, channel: PreampChannel) -> bool:
    """True where the channel can give phantom power."""
    return channel.phantom_works and preamp.switching is not Switching.NONE


def stand_of(need: Need) -> str | None:
    """The kind of stand to be counted, or None where none is wanted."""
    return None if need.stand in (None, "", "none") else need.stand


def wish_met(need: Need, unit: PickupUnit) -> bool:
    """True where every word of the wish begins a word of the unit's kind or model, or nothing is wished."""
    text = f"{unit.kind} {unit.model}".casefold()
    return all(re.search(rf"(?<!\w){re.escape(word)}", text) for word in need.wish.casefold().split())


def takes_level(need: Need, unit: PickupUnit) -> bool:
    """True where the peak level is within what the unit takes, with its pad if need be, or isn't known."""
    if need.peak_spl_db is None or unit.max_spl_db is None:
        return True
    return need.peak_spl_db <= unit.max_spl_db + max(0.0, unit.pad_db)


def has_pattern(need: Need, unit: PickupUnit) -> bool:
    """False only where a pattern of the unit is dead and none of those that are left will do."""
    return not unit.only_patterns or not need.patterns or bool(set(unit.only_patterns) & set(need.patterns))


def gain_wanted(peak_spl_db: float | None, unit: PickupUnit) -> float | None:
    """The gain in dB that brings peaks of this level to where they should be, without a pad; None if it isn't known."""
    if peak_spl_db is None or unit.gain_at_94_db is None:
        return None
    return unit.gain_at_94_db + 94 - peak_spl_db


def range_of(preamp: PreampUnit, channel: PreampChannel) -> Range:
    """With the preamp's own pad, the least gain is less by so much."""
    least, most, noisy = preamp.least_gain_db, preamp.most_gain_db, channel.noisy_above_db
    return Range(
        -math.inf if least is None else least - max(0.0, preamp.pad_db),
        math.inf if most is None else most,
        math.inf if noisy is None else noisy,
    )


def kind_rank(need: Need, unit: PickupUnit) -> int | None:
    """0 for the first choice; None where the kind may not be used. Any DI will do, listed ones first."""
    if unit.pickup is not need.pickup:
        return None
    if unit.kind in need.kinds:
        return need.kinds.index(unit.kind)
    return len(need.kinds) if need.pickup is Pickup.DI else None


def may_serve(need: Need, unit: PickupUnit) -> bool:
    """True where the unit alone breaks no hard rule for this input."""
    wished = not need.wish_binds or wish_met(need, unit)
    return (
        kind_rank(need, unit) is not None and takes_level(need, unit) and wished and has_pattern(need, unit)
    )


def names_of(unit: PickupUnit) -> tuple[str, str, str]:
    """What a liking may call it."""
    return unit.kind, unit.model, unit.tag


def steps_down(liking: Liking, unit: PickupUnit) -> int:
    """How far down the unit is in what somebody likes: 0 for the first, and where nothing is said."""
    names = names_of(unit)
    for place, wanted in enumerate(liking.wanted):
        if wanted in names:
            return place
    return MOST_WANTED + 1 if set(names) & set(liking.never) else len(liking.wanted)


def kept_cost(need: Need, unit: PickupUnit, costs: Costs) -> int:
    """The cost of taking away what the input has had."""
    if not need.had or unit.tag == need.had:
        return 0
    return costs.torn_down if need.set_up else costs.not_as_before


def is_wished(need: Need, unit: PickupUnit) -> bool:
    """True where it is what the list wishes for, or what the session asked for by its tag."""
    return unit.asked or (bool(need.wish.strip()) and wish_met(need, unit))


def pick_cost(need: Need, unit: PickupUnit, costs: Costs) -> int:
    """The cost of this unit on this input. A wish that is met counts as the first choice of kind."""
    wished = bool(need.wish.strip()) or need.asked
    met = is_wished(need, unit)
    rank = 0 if met else kind_rank(need, unit) or 0
    cost = costs.step_down_in_kind * rank + costs.spare(unit.value)
    cost += costs.wish_not_met * (wished and not met)
    cost += costs.fetched * (not unit.here) + costs.last_choice * unit.last_choice
    cost += costs.against_engineer * steps_down(need.own, unit)
    cost += costs.against_house * steps_down(need.house, unit) + kept_cost(need, unit, costs)
    return cost + costs.has_a_limit * bool(unit.limits)
