"""A series before it is saved: each occurrence as a draft, and what is in its way. Few queries for all."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo

from django.contrib.contenttypes.models import ContentType
from django.utils import timezone

from bookings.drafts import Draft, claims_of
from bookings.ladder import Piece, standing_on
from bookings.models import Session
from bookings.saying import hold_sentences
from bookings.series.rules import Occurrence, gives_its_start, occurrences, shifted, touched
from bookings.series.words import said_with_year
from bookings.wishes import wishes_of
from bookings.words import clash_sentences
from studio.claims import Clash, Wanted, clashes_with
from studio.clock import say_length
from studio.models import Person, Room
from studio.spans import Span

NOT_GIVEN = "the rule gives another day, but the first counts as one"
IMPOSSIBLE = "Its own hours don't allow that: it would end before it begins. Change it by itself first."


@dataclass(frozen=True, slots=True)
class Planned:
    """One occurrence. in_the_way and holds are sentences; clock says where a clock change touches it, or
    that the rule doesn't give the day of the first; keeps: what
    it has of its own and keeps, whatever the others get."""

    draft: Draft
    clock: str = ""
    keeps: tuple[str, ...] = ()
    in_the_way: Sequence[str] = ()
    holds: Sequence[str] = ()

    @property
    def free(self) -> bool:
        return not self.in_the_way

    @property
    def possible(self) -> bool:
        """Whether its times are in order."""
        return self.draft.load_in <= self.draft.downbeat < self.draft.end

    @property
    def key(self) -> str:
        """Names it on a form."""
        return (self.draft.occurrence or self.draft.load_in).isoformat()

    @property
    def words(self) -> str:
        draft = self.draft
        return said_with_year(Span(draft.load_in, draft.end), draft.room.site.tz)


class InTheWay(Exception):
    """Occurrences can't be had; `plans` are all of them, with what stands in the way of each."""

    def __init__(self, plans: Sequence[Planned]) -> None:
        super().__init__(f"{sum(not plan.free for plan in plans)} occurrences are taken")
        self.plans = list(plans)


def repeated(draft: Draft, rule: str) -> list[Planned]:
    """The draft once for each occurrence, with the same wall times. Raises RuleRefused."""
    tz = draft.room.site.tz
    found = [_repeat(draft, each) for each in occurrences(rule, draft.load_in, tz)]
    if found and not gives_its_start(rule, draft.load_in, tz):
        found[0] = replace(found[0], clock=NOT_GIVEN)
    return found


def _repeat(draft: Draft, each: Occurrence) -> Planned:
    """Where a clock change leaves nothing between its wall times, it is as long as the first one."""
    tz = draft.room.site.tz
    days = each.load_in.astimezone(tz).date() - draft.load_in.astimezone(tz).date()
    downbeat, end = (shifted(instant, days, tz) for instant in (draft.downbeat, draft.end))
    if not each.load_in <= downbeat < end:
        later = each.load_in - draft.load_in
        downbeat, end = draft.downbeat + later, draft.end + later
    moved = replace(draft.moved(each.load_in, downbeat, end), occurrence=each.load_in)
    clock = [each.clock, _at_the_end(draft.end, days, tz), _other_length(draft, moved)]
    return Planned(moved, "; ".join(words for words in clock if words))


def _at_the_end(end: datetime, days: timedelta, tz: tzinfo) -> str:
    words = touched(end.astimezone(tz).replace(tzinfo=None) + days, tz) if days else ""
    return f"at its end, {words}" if words else ""


def _other_length(draft: Draft, moved: Draft) -> str:
    usual, length = draft.end - draft.load_in, moved.end - moved.load_in
    if usual == length:
        return ""
    return f"{say_length(length)} long instead of {say_length(usual)}, since the clocks change"


def with_obstacles(plans: Sequence[Planned], own: Collection[int] = ()) -> list[Planned]:
    """The same with what stands in the way of each, leaving out claims and holds of the sessions in `own`."""
    possible = [plan for plan in plans if plan.possible]
    rooms, resources = _rooms_of(possible), _resources_of(possible)
    wishes = wishes_of(plan.draft for plan in possible)
    wanted: dict[int, list[Wanted]] = {
        id(plan): [
            *claims_of(plan.draft, rooms[_places(plan)], resources),
            *wishes.claims_of(plan.draft),
        ]
        for plan in possible
    }
    clashes = _clashes(wanted, own)
    pieces = {
        id(plan): [(room.resource_id, plan.draft.whole) for room in rooms[_places(plan)]]
        for plan in possible
        if plan.draft.firm
    }
    holds = [hold for hold in _holds(pieces) if hold.pk not in own]
    return [
        replace(
            plan,
            in_the_way=_sentences(plan, clashes.get(id(plan), [])) if plan.possible else [IMPOSSIBLE],
            holds=_hold_sentences(plan, holds) if id(plan) in pieces else [],
        )
        for plan in plans
    ]


def _places(plan: Planned) -> tuple[int, ...]:
    return (plan.draft.room.pk, *(room.pk for room in plan.draft.beside))


def _rooms_of(plans: Sequence[Planned]) -> dict[tuple[int, ...], list[Room]]:
    """The rooms that are taken, with their parts: looked up once for all that take the same."""
    drafts = {_places(plan): plan.draft for plan in plans}
    return {places: draft.rooms for places, draft in drafts.items()}


def _resources_of(plans: Sequence[Planned]) -> dict[int, int]:
    ids = {called.person_id for plan in plans for called in plan.draft.crew}
    return dict(Person.objects.filter(pk__in=ids).values_list("pk", "resource_id"))


def _clashes(wanted: Mapping[int, list[Wanted]], own: Collection[int]) -> dict[int, list[Clash]]:
    """By the plan that they are in the way of."""
    plan_of = {id(want): plan for plan, wants in wanted.items() for want in wants}
    found: dict[int, list[Clash]] = {}
    for clash in clashes_with([want for wants in wanted.values() for want in wants]):
        if not _is_own(clash, own):
            found.setdefault(plan_of[id(clash.wanted)], []).append(clash)
    return found


def _is_own(clash: Clash, own: Collection[int]) -> bool:
    if clash.claim is None or not own:
        return False
    kind = ContentType.objects.get_for_model(Session).pk
    return clash.claim.origin_type_id == kind and clash.claim.origin_id in own


def _sentences(plan: Planned, clashes: Sequence[Clash]) -> list[str]:
    by_others = [clash for clash in clashes if clash.claim or not clash.resource.exclusive]
    by_itself = {clash.resource.name for clash in clashes if clash not in by_others}
    each_other = [
        f"{name} is wanted by another one of the series at that time." for name in sorted(by_itself)
    ]
    return clash_sentences(by_others, plan.draft.room.site.tz) + each_other


def _holds(pieces: Mapping[int, list[Piece]]) -> list[Session]:
    return standing_on([piece for each in pieces.values() for piece in each], timezone.now())


def _hold_sentences(plan: Planned, holds: Sequence[Session]) -> list[str]:
    draft = plan.draft
    met = [hold for hold in holds if hold.whole.overlaps(draft.whole)]
    return hold_sentences(met, draft.room.site.tz, draft.whole if draft.firm else None)


def with_conflict(plans: Sequence[Planned], draft: Draft, clashes: Sequence[Clash]) -> list[Planned]:
    """The plans, after all one of them was taken when it was to be saved."""
    words = clash_sentences(clashes, draft.room.site.tz)
    return [replace(plan, in_the_way=words) if plan.draft == draft else plan for plan in plans]
