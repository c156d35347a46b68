"""Who is where: a row a person, from calls, leave and hours elsewhere."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q, QuerySet
from django.urls import reverse

from bookings.board.asked import Asked, only_own
from bookings.board.rows import Board, Row, across, whole_window
from bookings.board.taken import claims_in, taken_by, words_for
from bookings.models import Crew
from studio.access import Act, may, may_keep_hours
from studio.models import Person


def people_board(asked: Asked, now: datetime, viewer: Person) -> Board:
    people = list(people_on(asked, viewer))
    claims = claims_in(whole_window(asked)).filter(resource__in=[person.resource_id for person in people])
    taken = list(taken_by(claims))
    time = across(asked, taken, now)
    words, blocks, books = words_for(asked, claims, now), time.blocks(taken), may(viewer, Act.BOOK)
    return time.board(
        [
            Row(
                person.name,
                remark(person),
                [
                    words.on_person(block, sees_why=books or person == viewer)
                    for block in blocks.get(person.resource_id, ())
                ],
                address=reverse("bookings:person", args=[person.pk])
                if may_keep_hours(viewer, person)
                else "",
            )
            for person in people
        ]
    )


def people_on(asked: Asked, viewer: Person) -> QuerySet[Person]:
    """The people of this site and of none, and whoever is called to it on these days."""
    found = Person.objects.filter(is_active=True).prefetch_related("roles_held")
    if only_own(viewer):
        return found.filter(pk=viewer.pk)
    window = whole_window(asked)
    called = Crew.objects.filter(
        session__room__site=asked.site, call_at__lt=window.end, until__gt=window.start
    ).values("person_id")
    return found.filter(Q(site=asked.site) | Q(site=None) | Q(pk__in=called))


def remark(person: Person) -> str:
    roles = sorted(held.get_role_display() for held in person.roles_held.all())
    return ", ".join(roles + ["freelance"] * person.freelance)
