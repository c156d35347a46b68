"""A series in a calendar: one entry with its rule for what is regular, one more for each that isn't."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from uuid import UUID

from bookings.busy.limits import Budget, RuleBudget
from bookings.busy.rules import parse_rule
from bookings.busy.walking import walls
from bookings.calendar.entries import session_uid, setup_uid
from bookings.calendar.write import Entry, Status
from bookings.calendar.zones import is_utc
from bookings.models import Series, Session
from bookings.series.rules import rule_text, shifted, wall_shift
from bookings.series.shape import Kept, Shape, shape_of
from studio.clock import twice_or_never

FEWEST = 3  # two sessions are said sooner by themselves


@dataclass(frozen=True, slots=True)
class Known:
    """What a series is known by: the uid of its first session ever, which it keeps while time goes on.

    An invitation is for one session and has that session's own uid: an answer is for one evening. Programs keep
    subscribed calendars apart from what was accepted, whatever the uids; the page of calendars says so.

    sequence and changed_at count every session that belongs or belonged to it, so that both only ever rise.
    """

    series: Series
    uid: UUID
    sequence: int
    changed_at: datetime

    @property
    def mark(self) -> tuple[object, ...]:
        return self.series.rule, self.series.zone, self.uid.hex, self.sequence, self.changed_at


@dataclass(frozen=True, slots=True)
class Part:
    """An entry of one session, and the load-in that the series' rule gave that session."""

    pk: int
    occurrence: datetime
    entry: Entry


def as_series(known: Known, found: Sequence[tuple[Session, Sequence[Entry]]]) -> list[Entry]:
    """The entries of a series, from those of its sessions: by its rule where it is regular."""
    slots = {len(entries) for _, entries in found}
    if len(found) >= FEWEST and len(slots) == 1 and not any(session.is_lockout for session, _ in found):
        told = [_by_rule(known, _parts(known, found, slot)) for slot in range(slots.pop())]
        if all(told):
            return [entry for entries in told for entry in entries or ()]
    return [_risen(known, entry) for _, entries in found for entry in entries]


def _risen(known: Known, entry: Entry) -> Entry:
    """By itself, the first session's entry has the uid of the series: its sequence must not fall."""
    if entry.uid not in (session_uid(known.uid), setup_uid(known.uid)):
        return entry
    return replace(entry, sequence=known.sequence, changed_at=max(entry.changed_at, known.changed_at))


def _parts(known: Known, found: Sequence[tuple[Session, Sequence[Entry]]], slot: int) -> list[Part]:
    parts = []
    for session, entries in found:
        is_setup = entries[slot].uid == setup_uid(session.uid)
        uid = setup_uid(known.uid) if is_setup else session_uid(known.uid)
        entry = replace(entries[slot], uid=uid, sequence=known.sequence)
        parts.append(Part(session.pk, session.occurrence or session.load_in, entry))
    return sorted(parts, key=lambda part: part.occurrence)


def _by_rule(known: Known, parts: Sequence[Part]) -> list[Entry] | None:
    """None where a rule says less than the entries themselves, or where readers could differ about it."""
    tz = known.series.tz
    first, last = parts[0].occurrence, parts[-1].occurrence
    rule = _until(known.series.rule, last)
    shape = shape_of(rule, first, tz, [Kept(part.pk, part.occurrence, _same(part, known)) for part in parts])
    if shape is None or len(shape.left_out) + len(shape.overrides) > len(shape.regular):
        return None
    model = next(part for part in parts if part.pk == shape.model)
    shift = wall_shift(model.occurrence, model.entry.start, tz)
    if _unclear(known, shape, model, [*(part.occurrence for part in parts), *shape.left_out]):
        return None
    if not _begins_itself(rule, first.astimezone(tz).replace(tzinfo=None)):
        return None
    return [_master(known, shape, parts, model, shift), *_others(known, shape, parts, shift)]


def _same(part: Part, known: Known) -> tuple[object, ...]:
    """Everything that the entry says apart from its day: repeats of an entry with an end are equally long in
    elapsed time, whatever the clock does meanwhile (RFC 5545 section 3.8.5.3)."""
    entry = part.entry
    return (
        wall_shift(part.occurrence, entry.start, known.series.tz),
        entry.end - entry.start,
        *(entry.zone, entry.summary, entry.location, entry.description, entry.category),
        *(entry.status, entry.alarm),
    )


def _unclear(known: Known, shape: Shape, model: Part, occurrences: Sequence[datetime]) -> bool:
    """Whether it begins on another day than the load-in, by which the rule counts; in another zone; or at an
    hour that the clock shows twice or never. Nor is a rule of what is cancelled clear, when something stands."""
    tz, entry = known.series.tz, model.entry
    shift = wall_shift(model.occurrence, entry.start, tz)
    if entry.zone != known.series.zone or is_utc(entry.zone):
        return True
    if entry.status == Status.CANCELLED and shape.overrides:
        return True
    if entry.start.astimezone(tz).date() != model.occurrence.astimezone(tz).date():
        return True
    starts = [day.astimezone(tz).replace(tzinfo=None) + shift for day in occurrences]
    ends = entry.end.astimezone(tz).replace(tzinfo=None)
    skipped = len({wall.time() for wall in starts}) > 1
    return skipped or any(twice_or_never(wall, tz) for wall in [*starts, ends])


def _begins_itself(rule: str, first: datetime) -> bool:
    """Whether the first occurrence fits the rule: where it doesn't, readers count differently (section 3.8.5.3)."""
    budget = RuleBudget(Budget())
    return next(walls(parse_rule(rule), first, first, first, budget, first_given=False), None) == first


def _master(known: Known, shape: Shape, parts: Sequence[Part], model: Part, shift: timedelta) -> Entry:
    tz, entry = known.series.tz, model.entry
    start, last = (shifted(part.occurrence, shift, tz) for part in (parts[0], parts[-1]))
    length = entry.end - entry.start
    return replace(
        entry,
        start=start,
        end=start + length,
        rule=_until(known.series.rule, last),
        left_out=tuple(shifted(day, shift, tz) for day in shape.left_out),
        last_end=last + length,
        made_at=min(part.entry.made_at for part in parts),
        changed_at=max(known.changed_at, *(part.entry.changed_at for part in parts)),
    )


def _others(known: Known, shape: Shape, parts: Sequence[Part], shift: timedelta) -> list[Entry]:
    return [
        replace(part.entry, replaces=shifted(part.occurrence, shift, known.series.tz))
        for part in parts
        if part.pk in shape.overrides
    ]


def _until(rule: str, last: datetime) -> str:
    """The rule with its last occurrence at the instant; UNTIL in UTC (RFC 5545 section 3.3.10)."""
    return rule_text(replace(parse_rule(rule), count=None, until=f"{last.astimezone(UTC):%Y%m%dT%H%M%SZ}"))
