"""A series in a calendar: one entry with its rule for what is regular, one more for each that isn't."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from uuid import UUID

from bookings.busy.rules import parse_rule
from bookings.calendar.entries import session_uid
from bookings.calendar.write import Entry
from bookings.calendar.zones import is_utc
from bookings.models import Series, Session
from bookings.series.rules import rule_text
from bookings.series.shape import Kept, Shape, shape_of
from studio.clock import twice_or_never

FEWEST = 3  # two sessions are said sooner by themselves


def as_series(
    series: Series,
    first_uid: UUID,
    sessions: Sequence[Session],
    entries_of: Callable[[Session, bool], Sequence[Entry]],
) -> list[Entry] | None:
    """The entries of a series, or None where each session is better told by itself.

    entries_of gives a session's entries, with or without days in its words. first_uid is that of the series'
    first session ever: the series is known by it, and so keeps it while time goes on.
    """
    undated = {session.pk: entries_of(session, False) for session in sessions}
    if len(sessions) < FEWEST or any(len(entries) != 1 for entries in undated.values()):
        return None
    if is_utc(series.zone) or any(_in_doubt(session, series) for session in sessions):
        return None
    entries = {pk: found[0] for pk, found in undated.items()}
    by_pk = {session.pk: session for session in sessions}
    kept = [
        Kept(pk, by_pk[pk].occurrence or entry.start, _same(by_pk[pk], entry, series))
        for pk, entry in entries.items()
    ]
    days = sorted(each.occurrence for each in kept)
    rule = _within(series.rule, days[-1])
    shape = shape_of(rule, days[0], series.tz, kept)
    if shape is None or _on_another_day(entries[shape.model], by_pk[shape.model], series):
        return None
    dated = {session.pk: entries_of(session, True)[0] for session in sessions}
    return _told(shape, rule, first_uid, [each.occurrence for each in kept], entries, dated, by_pk)


def _told(
    shape: Shape,
    rule: str,
    first_uid: UUID,
    days: Sequence[datetime],
    entries: dict[int, Entry],
    dated: dict[int, Entry],
    sessions: dict[int, Session],
) -> list[Entry]:
    uid, model = session_uid(first_uid), entries[shape.model]
    offset = model.start - (
        sessions[shape.model].occurrence or model.start
    )  # a call may begin before load-in
    start, last = min(days) + offset, max(days) + offset
    regular = [entries[pk] for pk in shape.regular]
    master = replace(
        model,
        uid=uid,
        start=start,
        end=start + (model.end - model.start),
        rule=rule,
        left_out=tuple(day + offset for day in shape.left_out),
        last_end=last + (model.end - model.start),
        made_at=min(entry.made_at for entry in entries.values()),
        changed_at=max(entry.changed_at for entry in regular),
        sequence=max(entry.sequence for entry in regular),
    )
    others = [
        replace(dated[pk], uid=uid, replaces=(sessions[pk].occurrence or start) + offset)
        for pk in shape.overrides
    ]
    return [master, *others]


def _same(session: Session, entry: Entry, series: Series) -> tuple[object, ...]:
    """Everything that the entry says apart from its day."""
    occurrence = session.occurrence or entry.start
    starts, ends = (at.astimezone(series.tz) for at in (entry.start, entry.end))
    day = occurrence.astimezone(series.tz).date()
    return (
        (starts.date() - day, starts.time()),
        (ends.date() - day, ends.time()),
        *(entry.summary, entry.location, entry.description, entry.category, entry.status, entry.alarm),
    )


def _on_another_day(entry: Entry, session: Session, series: Series) -> bool:
    """A rule's weekdays are those of the load-in: an entry that begins the day before doesn't fit it."""
    occurrence = session.occurrence or entry.start
    return entry.start.astimezone(series.tz).date() != occurrence.astimezone(series.tz).date()


def _within(rule: str, last: datetime) -> str:
    """The rule from the first to the last session on view; UNTIL in UTC (RFC 5545 section 3.3.10)."""
    return rule_text(replace(parse_rule(rule), count=None, until=f"{last.astimezone(UTC):%Y%m%dT%H%M%SZ}"))


def _in_doubt(session: Session, series: Series) -> bool:
    walls = [at.astimezone(series.tz).replace(tzinfo=None) for at in (session.load_in, session.end) if at]
    return any(twice_or_never(wall, series.tz) for wall in walls)
