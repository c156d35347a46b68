"""A series before it is saved: each occurrence as a draft, and what is in its way. Few queries for all."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib.contenttypes.models import ContentType
from django.utils import timezone

from bookings.drafts import Draft, claims_of, resources_of
from bookings.ladder import standing_on
from bookings.models import Session
from bookings.saying import hold_sentences
from bookings.series.rules import RuleRefused, occurrences, shifted, wall_shift
from bookings.words import clash_sentences
from studio.claims import Clash, clashes_with
from studio.clock import say_span
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Planned:
    """One occurrence. in_the_way and holds are sentences; clock says where a clock change touches it."""

    draft: Draft
    clock: str
    in_the_way: Sequence[str]
    holds: Sequence[str]

    @property
    def free(self) -> bool:
        return not self.in_the_way

    @property
    def key(self) -> str:
        """Names it on a form."""
        return (self.draft.occurrence or self.draft.load_in).isoformat()

    @property
    def words(self) -> str:
        tz = self.draft.room.site.tz
        return f"{say_span(Span(self.draft.load_in, self.draft.end), tz)}, {self.draft.load_in.astimezone(tz).year}"


def repeated(draft: Draft, rule: str) -> list[tuple[Draft, str]]:
    """The draft once for each occurrence, with the same wall times, and what a clock change does to it."""
    tz, found = draft.room.site.tz, []
    for each in occurrences(rule, draft.load_in, tz):
        shift = wall_shift(draft.load_in, each.load_in, tz)
        end, downbeat = (shifted(instant, shift, tz) for instant in (draft.end, draft.downbeat))
        downbeat = max(downbeat, each.load_in)
        if end <= downbeat:
            raise RuleRefused(
                "A clock change leaves nothing of one of these sessions. Choose another hour, or leave it out."
            )
        later = draft.moved(each.load_in, downbeat, end)
        found.append((replace(later, occurrence=each.load_in), each.clock))
    return found


def planned(drafts: Sequence[tuple[Draft, str]], own: Collection[int] = ()) -> list[Planned]:
    """What stands in the way of each, leaving out the claims and holds of the sessions in `own`."""
    if not drafts:
        return []
    rooms, resources = drafts[0][0].rooms, resources_of(drafts[0][0])
    wanted = {number: claims_of(draft, rooms, resources) for number, (draft, _) in enumerate(drafts)}
    number_of = {id(want): number for number, wants in wanted.items() for want in wants}
    clashes: dict[int, list[Clash]] = {}
    for clash in clashes_with([want for wants in wanted.values() for want in wants]):
        if not _is_own(clash, own):
            clashes.setdefault(number_of[id(clash.wanted)], []).append(clash)
    pieces = [(room.resource_id, draft.whole) for draft, _ in drafts for room in rooms]
    holds = [hold for hold in standing_on(pieces, timezone.now()) if hold.pk not in own]
    tz = drafts[0][0].room.site.tz
    return [
        Planned(
            draft,
            clock,
            clash_sentences(clashes.get(number, []), tz),
            hold_sentences([hold for hold in holds if hold.whole.overlaps(draft.whole)], tz)
            if draft.firm
            else [],
        )
        for number, (draft, clock) in enumerate(drafts)
    ]


def _is_own(clash: Clash, own: Collection[int]) -> bool:
    if clash.claim is None or not own:
        return False
    kind = ContentType.objects.get_for_model(Session).pk
    return clash.claim.origin_type_id == kind and clash.claim.origin_id in own


def left_out_of(plans: Sequence[Planned], keys: Collection[str]) -> list[datetime]:
    """The occurrences that the form says are left out."""
    return [p.draft.occurrence for p in plans if p.key in keys and p.draft.occurrence]
