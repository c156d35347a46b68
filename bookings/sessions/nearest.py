"""The nearest alternatives to a session that can't be: the room at other times, other rooms at this time
or as near to it as they can be that day.

The prices are in bookings.alternatives. A constant number of queries, however many rooms and claims there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from bookings.alternatives import Differences, Option, nearest
from bookings.drafts import Draft
from bookings.lockouts import daily
from bookings.models import Session
from bookings.sessions.fitting import Fitting, fitting_rooms
from bookings.sessions.taken import Taken, taken_around
from studio.clock import say_span
from studio.spans import Span, gaps

DAYS_AROUND = 14
MOST_SHIFT = timedelta(hours=8)
STEP = timedelta(minutes=15)
AN_HOUR = timedelta(hours=1)
NIGHT = (time(0), time(7))
MOST_OF_EACH = 4  # of other times, and of other rooms: neither crowds the other out


@dataclass(frozen=True, slots=True)
class Alternative:
    """A draft that could be booked, in words, with what is different about it and the price of that."""

    draft: Draft
    words: str
    why: str
    cost: float


Options = Iterator[Option[Alternative]]


def alternatives(draft: Draft, session: Session | None, now: datetime) -> Sequence[Alternative]:
    """Those that can be, cheapest first. `session` is the one that the draft changes."""
    fitting = fitting_rooms(draft)
    reach = timedelta(days=DAYS_AROUND + 1)
    taken = taken_around(draft, [f.resources for f in fitting], reach, session)
    times = nearest(_other_times(draft, taken, now), MOST_OF_EACH)
    rooms = nearest(_other_rooms(draft, fitting, taken, now), MOST_OF_EACH)
    return [option.thing for option in nearest([*times, *rooms], 2 * MOST_OF_EACH)]


def _other_times(draft: Draft, taken: Taken, now: datetime) -> Options:
    around = range(-DAYS_AROUND, DAYS_AROUND + 1)
    for load_in in dict.fromkeys(_starts(draft, taken.own, taken, _from(now, taken.within), around)):
        if load_in == draft.load_in and not draft.crew and not draft.wanted_units:
            continue
        hours, days = _shift(draft, load_in)
        moved = _moved(draft, load_in)
        differences = Differences(hours=hours, night=_more_at_night(moved, draft), days=days)
        option = _option(moved, taken, taken.own, differences, [_shift_said(hours, days)])
        if option:
            yield option


def _shift(draft: Draft, load_in: datetime) -> tuple[float, int]:
    """How far another load-in is from the draft's own: hours on the clock, and days."""
    there, asked = (moment.astimezone(draft.room.site.tz) for moment in (load_in, draft.load_in))
    return _clock_hours(there) - _clock_hours(asked), (there.date() - asked.date()).days


def _more_at_night(moved: Draft, asked: Draft) -> float:
    """Hours of work between midnight and seven on the room's clock that were not asked for."""
    nights = (
        sum(night.length / AN_HOUR for day in draft.days for night in daily(day, NIGHT, draft.room.site.tz))
        for draft in (moved, asked)
    )
    return max(0.0, next(nights) - next(nights))


def _from(now: datetime, span: Span) -> Span | None:
    """What of the span isn't over yet."""
    return Span(max(now, span.start), span.end) if span.end and now < span.end else None


def _starts(
    draft: Draft, rooms: frozenset[int], taken: Taken, within: Span | None, around: Iterable[int]
) -> Iterator[datetime]:
    """Load-ins near the same hour of the days around, as the gaps of the rooms alone and of rooms, people and
    gear allow."""
    length, before = draft.whole.length, draft.load_in - draft.setup_at
    if within is None:
        return
    windows = [gaps(busy, within) for busy in (taken.of_rooms(rooms), taken.of_all(rooms, draft))]
    for offset in around:
        target = _same_hour(draft, offset) - before
        for free in windows:
            for gap in free:
                start = _into(gap, target, length)
                allowed = timedelta() if draft.day_hours else MOST_SHIFT
                if start and abs(start - target) <= allowed:
                    yield start + before


def _same_hour(draft: Draft, offset: int) -> datetime:
    """The load-in on another day, at the same hour on the site's clock."""
    there = draft.load_in.astimezone(draft.room.site.tz)
    day: date = there.date() + timedelta(days=offset)
    return there.replace(year=day.year, month=day.month, day=day.day).astimezone(UTC)


def _into(gap: Span, target: datetime, length: timedelta) -> datetime | None:
    """The instant nearest to the target at which the length fits into the gap; a shifted one on a quarter hour."""
    if gap.length < length:
        return None
    start = max(target, gap.start.astimezone(UTC))
    if start > target:
        start += -(start - datetime(2000, 1, 1, tzinfo=UTC)) % STEP
    last = gap.end.astimezone(UTC) - length if gap.end else start
    if start > last:
        start = last - (last - datetime(2000, 1, 1, tzinfo=UTC)) % STEP if target > last else last
    return start if start >= gap.start else None


def _moved(draft: Draft, load_in: datetime) -> Draft:
    """To another load-in; downbeat and end keep their distance from it."""
    later = load_in - draft.load_in.astimezone(UTC)
    return draft.moved(load_in, draft.downbeat.astimezone(UTC) + later, draft.end.astimezone(UTC) + later)


def _other_rooms(draft: Draft, fitting: Sequence[Fitting], taken: Taken, now: datetime) -> Options:
    """Each room once, at the hour of that day that costs least."""
    for fits in fitting:
        moved = replace(draft, room=fits.room, beside=fits.beside, kind=fits.kind)
        starts = _starts(moved, fits.resources, taken, _from(now, taken.near), [0])
        options = [_in_room(moved, fits, load_in, taken, draft) for load_in in {draft.load_in, *starts}]
        yield from nearest(filter(None, options), 1)


def _in_room(
    moved: Draft, fits: Fitting, load_in: datetime, taken: Taken, asked: Draft
) -> Option[Alternative] | None:
    hours, days = _shift(moved, load_in)
    moved = _moved(moved, load_in)
    night = _more_at_night(moved, asked)
    elsewhere = fits.room.site_id != asked.room.site_id
    said = [_shift_said(hours, days), *([f"at {fits.room.site}"] if elsewhere else []), *fits.why]
    differences = Differences(hours, night, days, other_room=True, other_site=elsewhere)
    return _option(moved, taken, fits.resources, differences, said)


def _option(
    moved: Draft, taken: Taken, resources: frozenset[int], differences: Differences, said: Sequence[str]
) -> Option[Alternative] | None:
    """None when the rooms are taken then. Whoever can't come is left out, and it says so."""
    if any(span.overlaps(moved.whole) for span in taken.of_rooms(resources)):
        return None
    lost = {called: reason for called in moved.crew if (reason := taken.why_not(called, moved))}
    missed = {pk: reason for pk in moved.wanted_units if (reason := taken.why_not_unit(pk, moved))}
    moved = replace(
        moved,
        crew=tuple(called for called in moved.crew if called not in lost),
        wanted_units=tuple(pk for pk in moved.wanted_units if pk not in missed),
    )
    holds = taken.holds_on(resources, moved.whole) if moved.firm else []
    priced = replace(differences, lost_people=len(lost), lost_gear=len(missed), holds=len(holds))
    why = [*said, *lost.values(), *missed.values(), *(f"a hold stands there: “{title}”" for title in holds)]
    thing = Alternative(moved, _words(moved), "; ".join(each for each in why if each), priced.cost)
    key = (abs(priced.days), abs(priced.hours), moved.room.order, moved.load_in, moved.room.pk)
    return Option(thing, priced, key)


def _words(draft: Draft) -> str:
    when = say_span(Span(draft.load_in, draft.end), draft.room.site.tz)
    downbeat = draft.downbeat.astimezone(draft.room.site.tz)
    on_time = "" if draft.downbeat == draft.load_in else f", downbeat {downbeat:%H:%M}"
    return f"{draft.room.name}, {when}{on_time}"


def _shift_said(hours: float, days: int) -> str:
    if not hours and not days:
        return "the same time"
    day = (
        f"{abs(days)} day{'s' if abs(days) > 1 else ''} {'later' if days > 0 else 'earlier'}" if days else ""
    )
    minutes = round(abs(hours) * 60)
    clock = (
        f"{minutes // 60} h {minutes % 60:02} min {'later' if hours > 0 else 'earlier'}" if minutes else ""
    )
    on_day = " on the clock" if day and clock else ""
    return ", ".join(
        part for part in (day, clock + on_day if clock else "at the same hour" if day else "") if part
    )


def _clock_hours(there: datetime) -> float:
    return there.hour + there.minute / 60
