"""Book, change and cancel sessions that repeat: all or nothing, in one transaction each."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from bookings.booking import Stale, apply_change, book, cancel, locked
from bookings.drafts import Draft, as_draft
from bookings.history import note
from bookings.models import Series, Session
from bookings.series.planning import InTheWay, Planned, repeated, with_conflict, with_obstacles
from bookings.series.rules import (
    RuleRefused,
    ended_with,
    moved_rule,
    occurrences,
    shifted,
    wall_shift,
    with_end,
)
from bookings.series.scopes import Scope, Target, members, preview_change, targets
from bookings.series.words import rule_in_words
from bookings.words import NO_CHANGE, difference
from studio.access import Act, require
from studio.claims import Conflict
from studio.models import Person

__all__ = [
    "InTheWay",
    "Scope",
    "cancel_series",
    "change_series",
    "preview",
    "repeat",
]

ONE_OF_MANY = "one of many"
SCOPE_WORDS = {Scope.FOLLOWING: "this one and the following", Scope.ALL: "all that aren't over"}


def preview(session: Session, rule: str) -> list[Planned]:
    """The session and its repeats by the rule; the session itself is the first. Raises RuleRefused."""
    plans = repeated(as_draft(session), with_end(rule, session.load_in, session.room.site.tz))
    if len(plans) < 2:
        raise RuleRefused("That is this one session only. Let the rule go on for longer.")
    return with_obstacles(plans, own={session.pk})


def repeat(
    by: Person, session_id: int, version: int, rule: str, left_out: Collection[str], overrule: str = ""
) -> Series:
    """Make the session the first of a series and book the others, but for those left out.

    A rule without an end goes on as far as the house books ahead. A second press gives the series of the first.
    Raises Stale, RuleRefused, PastHolds, and InTheWay when one that isn't left out is taken; then nothing has
    changed.
    """
    require(by, Act.BOOK)
    try:
        with transaction.atomic():
            if series := _made_before(session_id, rule):
                return series
            session = locked(session_id, version)
            if session.cancelled or session.series_id:
                raise Stale(session)
            plans = preview(session, rule)
            return _book_all(by, session, rule, plans, left_out, overrule)
    except IntegrityError:
        if series := _made_before(session_id, rule):
            return series
        raise


def _made_before(session_id: int, rule: str) -> Series | None:
    """The series that a first press made by the same rule."""
    series = Session.objects.select_related("series").get(pk=session_id).series
    return series if series and series.rule == with_end(rule, series.starts, series.tz) else None


def _book_all(
    by: Person,
    session: Session,
    rule: str,
    plans: Sequence[Planned],
    left_out: Collection[str],
    overrule: str,
) -> Series:
    wanted = [plan for plan in plans[1:] if plan.key not in left_out]
    if any(not plan.free for plan in wanted):
        raise InTheWay(plans)
    series = Series.objects.create(
        rule=with_end(rule, session.load_in, session.room.site.tz),
        zone=session.room.site.zone,
        starts=session.load_in,
        left_out=[plan.key for plan in plans[1:] if plan.key in left_out],
        made_at=timezone.now(),
    )
    session.series, session.occurrence = series, session.load_in
    session.version += 1
    session.sequence += 1
    session.changed_at = timezone.now()
    session.save(update_fields=["series", "occurrence", "version", "sequence", "changed_at"])
    words = rule_in_words(series.rule, session.load_in, session.room.site.tz)
    note(session, by, "repeats", f"Repeats {words}: {len(wanted) + 1} sessions.")
    for plan in wanted:
        draft = replace(plan.draft, series_id=series.pk)
        try:
            made = book(by, draft, overrule=overrule, told_as=ONE_OF_MANY)
        except Conflict as conflict:
            raise InTheWay(with_conflict(plans, plan.draft, conflict.clashes)) from conflict
        note(made, by, "repeats", f"One of a series: {words}.")
    return series


def change_series(
    by: Person, session_id: int, version: int, draft: Draft, scope: Scope, overrule: str = ""
) -> list[Session]:
    """Change this occurrence and the following, or all that aren't over. The rule is split where it must be.

    Raises Stale (also when all of them are over by now), InTheWay, PastHolds; then nothing has changed.
    """
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(session_id, version, draft.room.site_id)
        if session.cancelled or session.series is None:
            raise Stale(session)
        found = targets(session, draft, scope)
        if not found:
            raise Stale(session)
        plans = preview_change(found)
        if any(not plan.free for plan in plans):
            raise InTheWay(plans)
        later = draft.load_in > session.load_in
        changed = [
            _change_one(by, target, scope, plans, overrule)
            for target in sorted(found, key=lambda target: target.session.load_in, reverse=later)
            if difference(target.session, target.draft) != NO_CHANGE or target.draft.hold_until
        ]
        if changed:
            _follow_rule(session, session.series, found[0].session, draft)
        return list(Session.objects.filter(pk__in=changed))


def _change_one(by: Person, target: Target, scope: Scope, plans: Sequence[Planned], overrule: str) -> int:
    """In an order in which nothing is moved to where another one of them still stands."""
    session = target.session
    try:
        changed = apply_change(by, session.pk, session.version, target.draft, overrule, ONE_OF_MANY)
    except Conflict as conflict:
        raise InTheWay(with_conflict(plans, target.draft, conflict.clashes)) from conflict
    note(changed, by, "series", f"Changed with others of its series: {SCOPE_WORDS[scope]}.")
    return changed.pk


def _follow_rule(session: Session, series: Series, first: Session, draft: Draft) -> None:
    """The rule goes on saying when the changed ones take place: split off where earlier ones stay as they are.

    Where no rule says it, each keeps the occurrence it was given, as one that was moved.
    """
    into = draft.room.site
    shift = wall_shift(session.load_in, draft.load_in, session.room.site.tz, into.tz)
    occurrence = first.occurrence or first.load_in
    earlier = series.sessions.filter(occurrence__lt=occurrence).exists()
    if not earlier and not shift and into.zone == series.zone:
        return
    given = [each.load_in for each in occurrences(series.rule, series.starts, series.tz)]
    ahead = [each for each in given if each >= occurrence]
    rule = moved_rule(series.rule, ahead, shift, series.tz, into.tz) if occurrence in ahead else None
    if rule is None:
        return
    new = Series(rule=rule, zone=into.zone, follows=series if earlier else series.follows)
    new.starts, new.made_at = shifted(occurrence, shift, series.tz, into.tz), timezone.now()
    left_out = [shifted(day, shift, series.tz, into.tz) for day in series.days_left_out if day > occurrence]
    new.left_out = [day.isoformat() for day in left_out]
    new.save()
    _hand_on(series, new, occurrence, shift)
    if earlier:
        _end(series, max(each for each in given if each < occurrence))
    else:
        series.delete()


def _hand_on(series: Series, new: Series, occurrence: datetime, shift: timedelta) -> None:
    """The sessions from this occurrence on belong to the new series, and what followed follows it."""
    rows = list(series.sessions.filter(occurrence__gte=occurrence))
    for row in rows:
        at = shifted(row.occurrence or row.load_in, shift, series.tz, new.tz)
        row.series, row.occurrence = new, at
    Session.objects.bulk_update(rows, ["series", "occurrence"])
    series.followed_by.exclude(pk=new.pk).update(follows=new)


def _end(series: Series, last: datetime) -> None:
    """This occurrence becomes the last one that the rule gives."""
    series.rule = ended_with(series.rule, last)
    series.left_out = [day.isoformat() for day in series.days_left_out if day <= last]
    series.save(update_fields=["rule", "left_out"])


def cancel_series(
    by: Person, session_id: int, version: int, scope: Scope, because: str, by_whom: str = ""
) -> list[Session]:
    """Cancel this occurrence and the following, or all that aren't over. Raises Stale, also when all are."""
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(session_id, version)
        if session.cancelled or session.series is None:
            raise Stale(session)
        found = [each for each in members(session, scope) if not each.worked]
        if not found:
            raise Stale(session)
        done = [cancel(by, each.pk, each.version, because, by_whom) for each in found]
        for each in done:
            note(each, by, "series", f"Cancelled with others of its series: {SCOPE_WORDS[scope]}.")
        _end_before(session.series, found[0].occurrence or found[0].load_in)
        return done


def _end_before(series: Series, occurrence: datetime) -> None:
    """Where earlier ones are left, the rule gives only these."""
    given = [each.load_in for each in occurrences(series.rule, series.starts, series.tz)]
    kept = [each for each in given if each < occurrence]
    if kept and series.sessions.filter(occurrence__lt=occurrence).exists():
        _end(series, kept[-1])
