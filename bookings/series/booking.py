"""Book, change and cancel sessions that repeat: all or nothing, in one transaction each."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from django.db import IntegrityError, transaction
from django.utils import timezone

from bookings.booking import Stale, apply_change, book, cancel, locked
from bookings.drafts import Draft, as_draft
from bookings.history import note
from bookings.models import Series, Session
from bookings.series.planning import Planned, planned, repeated
from bookings.series.rules import (
    RuleRefused,
    begun_later,
    ended_before,
    occurrences,
    shifted,
    wall_shift,
)
from bookings.series.words import rule_in_words
from studio.access import Act, require
from studio.models import Person

PARTS = ("job_id", "room", "title", "kind", "instrument_list", "note", "spare_minutes", "beside", "day_hours")
MORE_PARTS = ("setup_minutes", "turnaround_minutes", "wanted_units")


class Scope(StrEnum):
    """Which occurrences a change is for."""

    FOLLOWING = "following"
    ALL = "all"


class InTheWay(Exception):
    """Occurrences can't be had; `plans` are all of them, with what stands in the way of each."""

    def __init__(self, plans: Sequence[Planned]) -> None:
        super().__init__(f"{sum(not plan.free for plan in plans)} occurrences are taken")
        self.plans = list(plans)


@dataclass(frozen=True, slots=True)
class Target:
    """An occurrence and how it is to be."""

    session: Session
    draft: Draft


def preview(session: Session, rule: str) -> list[Planned]:
    """The session and its repeats by the rule; the session itself is the first. Raises RuleRefused."""
    drafts = repeated(as_draft(session), rule)
    if len(drafts) < 2:
        raise RuleRefused("That is this one session only. Let the rule go on for longer.")
    return planned(drafts, own={session.pk})


def repeat(
    by: Person, session_id: int, version: int, rule: str, left_out: Collection[str], overrule: str = ""
) -> Series:
    """Make the session the first of a series and book the others, but for those left out.

    A second press gives the series of the first. Raises Stale, RuleRefused, PastHolds, and InTheWay when one that
    isn't left out is taken; then nothing has changed.
    """
    require(by, Act.BOOK)
    try:
        with transaction.atomic():
            session = Session.objects.select_related("series").get(pk=session_id)
            if session.series and session.series.rule == rule:
                return session.series
            session = locked(session_id, version)
            if session.cancelled or session.series_id:
                raise Stale(session)
            plans = preview(session, rule)
            return _book_all(by, session, rule, plans, left_out, overrule)
    except IntegrityError:
        session = Session.objects.select_related("series").get(pk=session_id)
        if session.series and session.series.rule == rule:
            return session.series
        raise


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
        rule=rule,
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
    words = rule_in_words(rule, session.load_in, session.room.site.tz)
    note(session, by, "repeats", f"Repeats {words}: {len(wanted) + 1} sessions.")
    for plan in wanted:
        made = book(by, replace(plan.draft, series_id=series.pk), overrule=overrule, told_as="repeated")
        note(made, by, "repeats", f"One of a series: {words}.")
    return series


def targets(session: Session, draft: Draft, scope: Scope) -> list[Target]:
    """The occurrences that a change of this one is for, each as it would be; those over are left alone.

    What an occurrence has of its own (another title, another room …) stays its own; times move by the same
    wall-clock shift. Takes a session made `with_all()`.
    """
    before = as_draft(session)
    changed = {name: getattr(draft, name) for name in (*PARTS, *MORE_PARTS) if _differs(before, draft, name)}
    return [
        Target(other, _changed(as_draft(other), before, draft, changed)) for other in members(session, scope)
    ]


def members(session: Session, scope: Scope) -> list[Session]:
    """This occurrence and the following, or all that aren't over; none that is cancelled."""
    found = Session.objects.standing().with_all().filter(series=session.series_id, end__gt=timezone.now())
    if scope == Scope.FOLLOWING:
        found = found.filter(occurrence__gte=session.occurrence)
    return list(found.order_by("occurrence"))


def _differs(before: Draft, draft: Draft, name: str) -> bool:
    old, new = getattr(before, name), getattr(draft, name)
    if name == "beside":
        return {room.pk for room in old} != {room.pk for room in new}
    return bool(old != new)


def _changed(own: Draft, before: Draft, draft: Draft, changed: dict[str, object]) -> Draft:
    tz = own.room.site.tz
    times = {
        name: shifted(getattr(own, name), wall_shift(getattr(before, name), getattr(draft, name), tz), tz)
        for name in ("load_in", "downbeat", "end")
    }
    same = {name: value for name, value in changed.items() if not _differs(before, own, name)}
    crew = own.crew
    if _people(before) != _people(draft):
        gone = {called.person_id for called in before.crew} - {called.person_id for called in draft.crew}
        kept = {called.person_id: called for called in own.crew if called.person_id not in gone}
        crew = (*kept.values(), *(c for c in draft.crew if c.person_id not in kept and c not in before.crew))
    return replace(own.moved(**times), **(same | {"crew": crew}))  # type: ignore[arg-type]


def _people(draft: Draft) -> set[tuple[int, str, bool]]:
    return {(called.person_id, called.role, called.assigned) for called in draft.crew}


def preview_change(found: Sequence[Target]) -> list[Planned]:
    """What stands in the way of each; the series' own sessions make room for each other."""
    own = {target.session.pk for target in found}
    plans: list[Planned] = []
    for group in _of_the_same_rooms(found):
        plans += planned([(target.draft, "") for target in group], own)
    return sorted(plans, key=lambda plan: plan.draft.load_in)


def _of_the_same_rooms(found: Sequence[Target]) -> list[list[Target]]:
    groups: dict[tuple[object, ...], list[Target]] = {}
    for target in found:
        draft = target.draft
        people = frozenset(called.person_id for called in draft.crew)
        rooms = (draft.room.pk, frozenset(room.pk for room in draft.beside))
        groups.setdefault((rooms, people), []).append(target)
    return list(groups.values())


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
        shift = wall_shift(session.load_in, draft.load_in, session.room.site.tz)
        for target in reversed(found) if shift > timedelta() else found:
            apply_change(by, target.session.pk, target.session.version, target.draft, overrule)
        _follow_rule(session.series, found, shift)
        return list(Session.objects.filter(pk__in=[target.session.pk for target in found]))


def _follow_rule(series: Series, found: Sequence[Target], shift: timedelta) -> None:
    """The rule goes on saying when the changed ones take place: split off where earlier ones stay as they are.

    Where no rule says it, each keeps the occurrence it was given, as one that was moved.
    """
    first = found[0].session
    occurrence = first.occurrence or first.load_in
    rule = begun_later(series.rule, _left(series, occurrence), shift)
    earlier = series.sessions.filter(occurrence__lt=occurrence).exists()
    if not shift or rule is None:
        return
    tz = series.tz
    left_out = [shifted(day, shift, tz) for day in series.days_left_out if day > occurrence]
    starts = shifted(occurrence, shift, tz)
    new = Series(rule=rule, zone=series.zone, starts=starts, left_out=[d.isoformat() for d in left_out])
    new.made_at = timezone.now()
    new.follows = series if earlier else series.follows
    if earlier:
        series.rule = ended_before(series.rule, occurrence)
        series.left_out = [d.isoformat() for d in series.days_left_out if d < occurrence]
        series.save()
    new.save()
    rows = list(series.sessions.filter(occurrence__gte=occurrence))
    for row in rows:
        row.series, row.occurrence = new, shifted(row.occurrence or row.load_in, shift, tz)
    Session.objects.bulk_update(rows, ["series", "occurrence"])
    if not earlier:
        series.followed_by.update(follows=new)
        series.delete()


def _left(series: Series, occurrence: datetime) -> int:
    """How many the rule still gives from this one on."""
    given = occurrences(series.rule, series.starts, series.tz)
    return sum(each.load_in >= occurrence for each in given)


def cancel_series(
    by: Person, session_id: int, version: int, scope: Scope, because: str, by_whom: str = ""
) -> list[Session]:
    """Cancel this occurrence and the following, or all that aren't over. Raises Stale, also when all are."""
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(session_id, version)
        if session.cancelled or session.series is None:
            raise Stale(session)
        found = members(session, scope)
        if not found:
            raise Stale(session)
        done = [cancel(by, each.pk, each.version, because, by_whom) for each in found]
        first = found[0].occurrence
        series = session.series
        if first and series.sessions.filter(occurrence__lt=first).exists():
            series.rule = ended_before(series.rule, first)
            series.save(update_fields=["rule"])
        return done
