"""A finished layout to ask questions of: who uses what, which switch is on, what is still free."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from tasks.planning.carrying import at_least, cables_for, stands_for, wants_cable
from tasks.planning.groups import House, supply_of
from tasks.planning.levels import gain_with, pad_within
from tasks.planning.naming import Place
from tasks.planning.rules import (
    Feed,
    Range,
    can_feed,
    draw_of,
    feed_of,
    is_shared,
    range_of,
    stand_of,
    switch_of,
)
from tasks.planning.snapshot import Need, PickupUnit, PreampChannel, PreampUnit, Switching


@dataclass(frozen=True)
class Layout:
    """Places of the planned inputs, by their place in the sorted list of needs."""

    house: House
    places: dict[int, Place]

    def without(self, p: int) -> Layout:
        """The layout as it would be with one input taken out."""
        return Layout(self.house, {other: place for other, place in self.places.items() if other != p})

    @cached_property
    def on(self) -> frozenset[tuple[int, int]]:
        """The switches that are on, as (place of the preamp, bank)."""
        return frozenset(
            (place.preamp, switch_of(self.house.preamps[place.preamp], place.channel))
            for place in self.places.values()
            if place.preamp is not None and place.channel is not None and self._turns_on(place)
        )

    def _turns_on(self, place: Place) -> bool:
        always = self.house.preamps[place.preamp or 0].switching is Switching.ALWAYS_ON
        return always or (place.demand is not None and place.demand.feed is Feed.ON)

    def gets_phantom(self, place: Place) -> bool:
        """True where phantom power arrives at the input: the switch is on and the channel's phantom works."""
        if place.preamp is None or place.channel is None:
            return False
        preamp = self.house.preamps[place.preamp]
        channel = next(c for c in preamp.channels if c.number == place.channel)
        return (place.preamp, switch_of(preamp, place.channel)) in self.on and can_feed(preamp, channel)

    @cached_property
    def by_unit(self) -> dict[str, list[int]]:
        """The numbers of the inputs on each unit, by tag."""
        found: dict[str, list[int]] = defaultdict(list)
        for place, where in sorted(self.places.items()):
            if where.unit:
                found[where.unit.tag].append(self.house.needs[place].number)
        return found

    def has_room(self, unit: PickupUnit) -> bool:
        return len(self.by_unit.get(unit.tag, ())) < unit.inputs

    def users(self, units: Sequence[PickupUnit]) -> list[int]:
        """The numbers of the inputs that use any of these units."""
        return sorted(number for unit in units for number in self.by_unit.get(unit.tag, ()))

    def stand_users(self, kind: str) -> list[int]:
        """The numbers of the inputs on stands of this kind."""
        return [self.house.needs[p].number for p, w in sorted(self.places.items()) if w.stand == kind]

    def stands_left(self, kind: str) -> int:
        return max(0, self.house.snapshot.stands.get(kind, 0)) - len(self.stand_users(kind))

    def stand_for(self, need: Need, unit: PickupUnit) -> bool:
        """True where no stand is wanted or one that carries the unit is left."""
        kinds = stands_for(self.house.snapshot, need, unit)
        return stand_of(need) is None or any(self.stands_left(kind) > 0 for kind in kinds)

    # Cables, outlets, patch points

    @cached_property
    def cables(self) -> dict[int, str]:
        """By the number of the input the cable that it takes."""
        return cables_for(self.house.snapshot.cables, [self.house.needs[p] for p in self.places])

    def short_of_cable(self, need: Need) -> float | None:
        """The least length of which one more is wanted for this input; None where a cable is left for it."""
        cables = self.house.snapshot.cables
        if cables is None or not wants_cable(need):
            return None
        wanted = need.cable_m or 0.0
        held = [self.house.needs[p].cable_m or 0.0 for p in self.places if wants_cable(self.house.needs[p])]
        lengths = sorted({length for length in held if length < wanted} | {wanted}, reverse=True)
        short = (n for n in lengths if sum(length >= n for length in held) >= at_least(cables, n))
        return next(short, None)

    def outlet_for(self, unit: PickupUnit) -> bool:
        """True where the unit needs no mains outlet of its own, has one, or one is left."""
        outlets = self.house.snapshot.mains_outlets
        return (
            outlets is None or not unit.own_supply or unit.tag in self.by_unit or len(self.plugged) < outlets
        )

    @cached_property
    def plugged(self) -> frozenset[str]:
        """The tags of the units that take a mains outlet."""
        return frozenset(w.unit.tag for w in self.places.values() if w.unit and w.unit.own_supply)

    def is_patched(self, place: Place) -> bool:
        """True where the input reaches its preamp through a patch point only."""
        return place.preamp is not None and not self.house.preamps[place.preamp].here

    def reachable(self, p: int) -> bool:
        """True where the room's lines reach the preamp by themselves, or a patch point is left."""
        points = self.house.snapshot.patch_points
        if points is None or self.house.preamps[p].here:
            return True
        return sum(map(self.is_patched, self.places.values())) < points

    # Levels

    def gains(self, place: Place) -> Range:
        """What the channel of a placed input can be set to."""
        p = place.preamp or 0
        return range_of(self.house.preamps[p], self.channel(p, place.channel or 0))

    def pad(self, p: int) -> bool:
        """Whether the pad of the unit is in."""
        place = self.places[p]
        if place.unit is None or place.preamp is None:
            return False
        return bool(pad_within(self.house.peaks[self.house.needs[p].number], place.unit, self.gains(place)))

    def gain_db(self, p: int) -> float | None:
        """What the channel has to give, as the pad is set."""
        unit = self.places[p].unit
        return gain_with(self.house.peaks[self.house.needs[p].number], unit, self.pad(p)) if unit else None

    # Channels

    def channel_users(self) -> list[int]:
        """The numbers of the inputs on preamp channels."""
        return [self.house.needs[p].number for p, w in sorted(self.places.items()) if w.preamp is not None]

    @cached_property
    def taken(self) -> frozenset[tuple[int, int]]:
        """The channels in use, as (place of the preamp, channel)."""
        return frozenset(
            (w.preamp, w.channel) for w in self.places.values() if w.preamp is not None and w.channel
        )

    def free_channels(self) -> list[tuple[int, int]]:
        """The channels not in use, as (place of the preamp, channel)."""
        channels = ((p, c.number) for p, preamp in enumerate(self.house.preamps) for c in preamp.channels)
        return [channel for channel in channels if channel not in self.taken]

    def channel_for(self, need: Need, unit: PickupUnit) -> bool:
        """True where a free channel would suit the unit as the switches and supplies now stand."""
        return any(self._suits(unit, p, n) for p, n in self.channels_within(need, unit) if self.reachable(p))

    def channel(self, p: int, number: int) -> PreampChannel:
        return next(c for c in self.house.preamps[p].channels if c.number == number)

    def channels_within(self, need: Need, unit: PickupUnit) -> list[tuple[int, int]]:
        """The free channels whose range holds the gain that the unit asks for on this input."""
        peaks = self.house.peaks[need.number]
        free = ((p, n, range_of(self.house.preamps[p], self.channel(p, n))) for p, n in self.free_channels())
        return [(p, n) for p, n, gains in free if pad_within(peaks, unit, gains) is not None]

    def _suits(self, unit: PickupUnit, p: int, number: int) -> bool:
        preamp, channel = self.house.preamps[p], self.channel(p, number)
        feed, key = feed_of(unit), (p, switch_of(preamp, number))
        if feed is Feed.ON:
            unlit = is_shared(preamp) and key in self._must_stay_off
            return can_feed(preamp, channel) and not unlit and self._supplies(unit, p)
        live = key in self.on or preamp.switching is Switching.ALWAYS_ON
        return not live or (feed is Feed.ANY and (not can_feed(preamp, channel) or self._supplies(unit, p)))

    def channel_with_phantom(self) -> bool:
        """True where a free channel could have its phantom on, if current were no matter."""
        return any(
            can_feed(preamp, channel)
            and not (is_shared(preamp) and (p, switch_of(preamp, number)) in self._must_stay_off)
            for p, number in self.free_channels()
            if self.reachable(p)
            for preamp in (self.house.preamps[p],)
            for channel in preamp.channels
            if channel.number == number
        )

    @cached_property
    def _must_stay_off(self) -> frozenset[tuple[int, int]]:
        return frozenset(
            (w.preamp, switch_of(self.house.preamps[w.preamp], w.channel))
            for w in self.places.values()
            if w.preamp is not None and w.channel is not None and w.demand and w.demand.feed is Feed.OFF
        )

    def drawn(self, p: int) -> int:
        """Hundredths of a milliampere that the inputs on a preamp take."""
        return sum(
            draw_of(w.unit) for w in self.places.values() if w.preamp == p and w.unit and self.gets_phantom(w)
        )

    def _supplies(self, unit: PickupUnit, p: int) -> bool:
        preamp = self.house.preamps[p]
        return preamp.phantom_supply_ma is None or self.drawn(p) + draw_of(unit) <= supply_of(preamp)

    def mates(self, place: Place) -> tuple[PreampUnit, list[int]]:
        """The preamp and the channels that share a switch with this one, itself included."""
        preamp = self.house.preamps[place.preamp or 0]
        number = place.channel or 0
        if preamp.switching is Switching.PER_CHANNEL:
            return preamp, [number]
        bank = switch_of(preamp, number)
        return preamp, sorted(c.number for c in preamp.channels if switch_of(preamp, c.number) == bank)
