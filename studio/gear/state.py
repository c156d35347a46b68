"""What state a unit or channel is in at a time, in words and as a mark. Pure: faults in, sentences out.

Everything is read from `unit.faults.all()` (with their channels) and `unit.stays.all()`, so that a list prefetches
it once. A past `at` is answered by replaying the events of the faults and from the stays, a future one from the
return dates that are promised.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from django.utils import timezone

from studio.clock import say
from studio.models import Channel, Fault, GearUnit, Stay

Effect, Severity, Step = Fault.Effect, Fault.Severity, Fault.Step

STILL_FINE = {
    Effect.NO_PHANTOM: "fine for what needs no phantom: moving-coil, passive ribbon, own supply",
    Effect.NOISY: "fine for loud sources at low gain",
    Effect.PAD_STUCK: "fine where the level fits as it stands",
    Effect.PATTERN: "fine in its other patterns",
}
WHERE_OUT = {
    Step.ON_BENCH: "on the bench",
    Step.AWAY: "away for repair",
    Step.PARTS: "on the bench, waiting for parts",
}
WORST_FIRST = [Severity.OUT, Severity.LIMITED, Severity.SUSPECTED]
MARKS = {Severity.OUT: "crossed", Severity.LIMITED: "half", Severity.SUSPECTED: "broken"}


@dataclass(frozen=True, slots=True)
class State:
    """mark is full, half, broken or crossed; words say it in short, more says why and until when."""

    mark: str
    words: str
    more: str = ""

    @property
    def usable(self) -> bool:
        return self.mark != "crossed"

    @property
    def works(self) -> bool:
        return self.mark == "full"

    def __str__(self) -> str:
        return f"{self.words}; {self.more}" if self.more else self.words


WORKS = State("full", "works")


def state_of(unit: GearUnit, channel: Channel | None = None, at: datetime | None = None) -> State:
    """The state of a whole unit, or of one channel of it, at an instant; now if none is given."""
    now = timezone.now()
    when = at or now
    if unit.retired and (unit.retired_at is None or when >= unit.retired_at):
        return _retired(unit)
    faults = [as_it_was(fault, when, now) for fault in unit.faults.all() if _stands(fault, when)]
    itself = _itself(unit, channel, faults, when, now)
    stay = stay_at(unit, when)
    if stay is None or stay.kind == Stay.Kind.ROOM or any(_is_missing(fault) for fault in faults):
        return itself
    return _outside(stay, itself, when, now, unit.site.tz)


def _retired(unit: GearUnit) -> State:
    since = f"since {say(unit.retired_at, unit.site.tz)}" if unit.retired_at else ""
    return State("crossed", "retired", _list([since, unit.remark]))


def _itself(
    unit: GearUnit, channel: Channel | None, faults: Sequence[Fault], at: datetime, now: datetime
) -> State:
    """How well it works, wherever it is."""
    whole = [fault for fault in faults if fault.channel_id is None]
    if channel is not None:
        whole += [fault for fault in faults if fault.channel_id == channel.pk]
    if channel is not None or whole:
        return _said(whole, at, now, unit.site.tz)
    return _sum_of_channels(unit, faults, at, now)


def stay_at(unit: GearUnit, at: datetime) -> Stay | None:
    """Where it was, or is, or will still be as far as is known, when that isn't at home. One at a time."""
    during = (s for s in unit.stays.all() if s.began_at <= at and (s.ended_at is None or at < s.ended_at))
    return next(during, None)


def _outside(stay: Stay, itself: State, at: datetime, now: datetime, tz: tzinfo) -> State:
    """With somebody outside the house: not to be had, however well it works."""
    words = f"{stay.where} since {say(stay.began_at, tz)}"
    but = "" if itself.works else str(itself)
    if stay.due_at is not None and now < stay.due_at <= at:
        back = f"expected back before then: {say(stay.due_at, tz)}"
        if itself.works:
            return State("broken", back, f"now {words}")
        return State(itself.mark, itself.words, _list([itself.more, f"now {words}", back]))
    return State("crossed", words, _list([_due(stay, now, tz), but]))


def _due(stay: Stay, now: datetime, tz: tzinfo) -> str:
    if stay.ended_at is not None:
        return f"back {say(stay.ended_at, tz)}"
    if stay.due_at is None:
        return "no return date yet"
    return f"{'due back' if stay.due_at > now else 'was due back'} {say(stay.due_at, tz)}"


def _stands(fault: Fault, at: datetime) -> bool:
    return fault.since <= at and (fault.closed_at is None or at < fault.closed_at)


def as_it_was(fault: Fault, at: datetime, now: datetime) -> Fault:
    """The fault as it stood at an instant, by its last event until then; itself for now and later."""
    if at >= now:
        return fault
    before = [event for event in fault.events.all() if event.at <= at]
    if not before:
        return fault
    last, then = before[-1], copy.copy(fault)
    then.severity, then.step, then.expected_back = last.severity, last.step, last.expected_back
    return then


def _promised(fault: Fault, at: datetime, now: datetime) -> bool:
    """A future instant by which the fault should be gone. A promise that has passed counts for nothing."""
    return fault.expected_back is not None and now < fault.expected_back <= at


def _said(faults: Sequence[Fault], at: datetime, now: datetime, tz: tzinfo) -> State:
    still = [fault for fault in faults if not _promised(fault, at, now)]
    if still:
        worst, *others = sorted(still, key=lambda fault: WORST_FIRST.index(Severity(fault.severity)))
        also = [f"also {_short(other, tz)}" for other in others]
        return State(
            MARKS[Severity(worst.severity)], _short(worst, tz), _list([*_rest(worst, now, tz), *also])
        )
    if faults:
        latest = max(faults, key=lambda fault: fault.expected_back or fault.since)
        back = say(latest.expected_back, tz) if latest.expected_back else ""
        return State("broken", f"expected back before then: {back}", f"now {_short(latest, tz)}")
    return WORKS


def _short(fault: Fault, tz: tzinfo) -> str:
    """“no phantom since Tue 2 March, 16:40”."""
    since, what = f"since {say(fault.since, tz)}", effect_in_words(fault)
    if fault.step == Step.UNHEARD:
        return f"back, not yet heard; {what} {since}"
    match Severity(fault.severity):
        case Severity.OUT if _is_missing(fault) and fault.step not in WHERE_OUT:
            return f"missing {since}"
        case Severity.OUT if fault.step in WHERE_OUT:
            return f"{WHERE_OUT[Step(fault.step)]}, out {since}: {what}"
        case Severity.OUT:
            return f"out, still here, {since}: {what}"
        case Severity.SUSPECTED:
            return f"suspected, watch it: {what} {since}"
        case Severity.LIMITED:
            return f"{what} {since}"


def _is_missing(fault: Fault) -> bool:
    """The unit itself, not a part of it."""
    return fault.effect == Effect.MISSING and not fault.part_missing


def effect_in_words(fault: Fault) -> str:
    """What it does, with the gain or the pattern that it does it at; or which part of it isn't there."""
    if fault.part_missing:
        return fault.part_missing
    if fault.effect == Effect.OTHER and fault.words:
        return f"“{fault.words}”"
    if fault.effect == Effect.NOISY and fault.above_gain_db is not None:
        return f"noisy above {fault.above_gain_db:g} dB of gain"
    if fault.effect == Effect.PATTERN and fault.pattern:
        return f"{fault.pattern} is dead"
    return str(fault.get_effect_display())


def _rest(fault: Fault, now: datetime, tz: tzinfo) -> list[str]:
    """What it is still good for, what was said of it, how to work around it, when it is back."""
    limited = fault.severity == Severity.LIMITED
    return [
        _still_fine(fault) if limited else "",
        f"“{fault.words}”" if fault.words and fault.effect != Effect.OTHER and not fault.part_missing else "",
        f"with {fault.sent_to}" if fault.step == Step.AWAY and fault.sent_to else "",
        _workaround(fault, now, tz),
        _back(fault, now, tz),
    ]


def _still_fine(fault: Fault) -> str:
    if fault.effect == Effect.NOISY and fault.above_gain_db is not None:
        return f"fine below {fault.above_gain_db:g} dB of gain"
    return STILL_FINE.get(Effect(fault.effect), "usable with care")


def _workaround(fault: Fault, now: datetime, tz: tzinfo) -> str:
    if not fault.workaround:
        return ""
    if fault.workaround_until is None:
        return f"meanwhile: {fault.workaround}"
    until = say(fault.workaround_until, tz)
    ended = "until" if fault.workaround_until > now else "which was to end"
    return f"meanwhile: {fault.workaround}, {ended} {until}"


def _back(fault: Fault, now: datetime, tz: tzinfo) -> str:
    if fault.closed_at is not None:
        return f"mended {say(fault.closed_at, tz)}"
    if fault.expected_back is None:
        return "no return date yet" if fault.severity == Severity.OUT else ""
    back = say(fault.expected_back, tz)
    return f"expected back {back}" if fault.expected_back > now else f"was expected back {back}, and is not"


def _list(parts: Iterable[str]) -> str:
    return "; ".join(part for part in parts if part)


def _sum_of_channels(unit: GearUnit, faults: Sequence[Fault], at: datetime, now: datetime) -> State:
    """Of a unit that is sound as a whole: what its channels add up to."""
    states = {
        fault.channel_id: _said(
            [f for f in faults if f.channel_id == fault.channel_id], at, now, unit.site.tz
        )
        for fault in faults
    }
    if not states:
        return WORKS
    numbers = {fault.channel_id: fault.channel.number for fault in faults if fault.channel}
    said = [f"channel {numbers[pk]}: {states[pk].words}" for pk in sorted(states, key=lambda pk: numbers[pk])]
    marks = [state.mark for state in states.values()]
    if marks.count("crossed") == unit.gear_model.channels:
        return State("crossed", "out: every channel", _list(said))
    if set(marks) == {"broken"}:
        return State("broken", "works, with a doubt", _list(said))
    return State("half", "works with a limit", _list(said))


@dataclass(frozen=True, slots=True)
class ChannelRow:
    """One row of the channels table: “3”, or “5–8” for a run of channels that work."""

    numbers: str
    first: int
    last: int
    state: State
    asked: bool = False

    @property
    def more(self) -> str:
        """Of the channel asked for the page has said it all already."""
        return "" if self.asked else self.state.more


def channel_rows(unit: GearUnit, at: datetime | None = None, asked: int | None = None) -> list[ChannelRow]:
    """The channels in order; neighbours that work are joined, but the one asked for stands alone."""
    rows: list[ChannelRow] = []
    for channel in unit.channels.all():
        state, number = state_of(unit, channel, at), channel.number
        last = rows[-1] if rows else None
        if last and last.state.works and state.works and asked not in {number, last.last}:
            rows[-1] = ChannelRow(f"{last.first}–{number}", last.first, number, State("full", "work"))
        else:
            rows.append(ChannelRow(str(number), number, number, state, asked=number == asked))
    return rows
