"""Gear that is wanted by tag: claimed with the session, so that no two sessions can rely on the same unit.

A hold's wishes are tentative, like its room. Only another session stands in the way of a wish: what is out for
repair, or otherwise not to be had, isn't kept and doesn't stop the session; it is kept once it is back and the
session is planned anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta

from django.contrib.contenttypes.models import ContentType
from django.db.models import Q

from bookings.drafts import Draft, as_draft
from bookings.models import Session
from studio.claims import Wanted, clashes_with, take
from studio.models import Channel, Claim, GearUnit, Resource, Site, Stock
from studio.spans import Span
from studio.whereabouts.moves import travel_minutes

GEAR = Claim.Purpose.GEAR


@dataclass(frozen=True, slots=True)
class Wishes:
    """The resource of each unit that is wanted by some drafts, and when it is away: at the bench, for example.

    sites: of those units; travel between them and the session's site is part of what is claimed.
    """

    resources: dict[int, int]
    away: dict[int, list[Span]]
    sites: dict[int, Site] = field(default_factory=dict)

    def claims_of(self, draft: Draft) -> list[Wanted]:
        return [
            Wanted(resource, span, GEAR, draft.title, firm=draft.firm)
            for pk in draft.wanted_units
            if (resource := self.resources.get(pk))
            and (span := self._span(pk, draft))
            and not any(other.overlaps(span) for other in self.away.get(resource, ()))
        ]

    def _span(self, pk: int, draft: Draft) -> Span:
        """The whole session, and the way there and back for what comes from another site."""
        site, whole = self.sites.get(pk), draft.whole
        if site is None or site.pk == draft.room.site_id or whole.end is None:
            return whole
        way = timedelta(minutes=travel_minutes(site, draft.room.site))
        return Span(whole.start - way, whole.end + way)


def wishes_of(drafts: Iterable[Draft]) -> Wishes:
    """Two queries, none where nothing is wanted."""
    ids = {pk for draft in drafts for pk in draft.wanted_units}
    if not ids:
        return Wishes({}, {})
    units = list(GearUnit.objects.filter(pk__in=ids).select_related("site"))
    resources = {unit.pk: unit.resource_id for unit in units}
    by_session = ContentType.objects.get_for_model(Session)
    away: dict[int, list[Span]] = {}
    firm = Claim.objects.firm().filter(resource__in=resources.values()).exclude(origin_type=by_session)
    for claim in firm:
        away.setdefault(claim.resource_id, []).append(claim.span)
    return Wishes(resources, away, {unit.pk: unit.site for unit in units})


def wished_claims(draft: Draft) -> list[Wanted]:
    return wishes_of([draft]).claims_of(draft)


def keep_gear(session: Session, draft: Draft) -> None:
    """Keep what the draft wants, instead of what the session wanted before. Raises Conflict.

    Comes after rooms and people. Whatever else its plan may take is held at once: of two that keep a unit each
    and plan with the other's, each would wait for the other.
    """
    before = list(session.wanted_units.values_list("resource_id", flat=True))
    wishes = wishes_of([draft])
    if not before and not wishes.resources:
        return
    _hold_gear_of(draft.room.site_id, wishes.resources.values())
    asked = [*before, *wishes.resources.values()]
    Claim.objects.of(session).filter(purpose=GEAR, resource__in=asked).delete()
    take(session, wishes.claims_of(draft))


def kept_now(session: Session) -> list[Wanted]:
    """Of what a session made `with_all()` wants, that which no other session has."""
    claims = wished_claims(as_draft(session))
    taken = {clash.resource.pk for clash in clashes_with(claims, but_not=session)}
    return [want for want in claims if want.resource_id not in taken]


def not_kept(sessions: Sequence[Session]) -> dict[int, list[str]]:
    """The tags of what sessions want and haven't got, by session. Two queries."""
    rows = Session.wanted_units.through.objects.filter(session__in=sessions).order_by("gearunit__tag")
    wanted = list(rows.values_list("session_id", "gearunit__resource_id", "gearunit__tag"))
    kind = ContentType.objects.get_for_model(Session)
    claims = Claim.objects.filter(purpose=GEAR, origin_type=kind, origin_id__in={pk for pk, *_ in wanted})
    kept = set(claims.values_list("origin_id", "resource_id")) if wanted else set()
    found: dict[int, list[str]] = {}
    for pk, resource, tag in wanted:
        if (pk, resource) not in kept:
            found.setdefault(pk, []).append(tag)
    return found


def _hold_gear_of(site_id: int, wished: Iterable[int]) -> None:
    """In the one order in which everybody holds resources."""
    units = GearUnit.objects.filter(site=site_id).values("resource")
    channels = Channel.objects.filter(unit__site=site_id).values("resource")
    stocks = Stock.objects.filter(site=site_id).values("resource")
    of_site = Q(pk__in=units) | Q(pk__in=channels) | Q(pk__in=stocks) | Q(pk__in=list(wished))
    list(Resource.objects.select_for_update().filter(of_site).order_by("pk").values_list("pk"))
