"""A return date that slips: the people of the sessions that counted on the unit hear of it, once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.dispatch import receiver
from django.urls import reverse
from django.utils import timezone

from bookings.models import Session
from studio.clock import say
from studio.models import Fault, FaultEvent, GearUnit, Person, Role
from studio.notices import tell
from studio.signals import gear_state_changed


@receiver(gear_state_changed, dispatch_uid="bookings.tell_of_a_slip")
def tell_of_a_slip(
    sender: Any, unit: GearUnit, fault: Fault, given_up: list[tuple[int, int]], **kwargs: Any
) -> None:
    """given_up: the bookings that just lost it; their plans are made anew after this transaction."""
    kind = ContentType.objects.get_for_model(Session).pk
    hit = [pk for type_id, pk in given_up if type_id == kind]
    if not hit or (words := slip_of(fault)) is None:
        return
    event = fault.events.select_related("by").last()
    by = event.by if event and event.kind != FaultEvent.Kind.REPORTED and not _overdue(fault) else None
    ahead = Session.objects.standing().filter(pk__in=hit, end__gt=timezone.now()).with_all()
    for session in ahead.order_by("downbeat", "pk"):
        for person in concerned(session):
            if person != by:
                _tell(person, session, fault, words)


def slip_of(fault: Fault) -> str | None:
    """“was expected back Mon 8 March, 12:00, and now Fri 12 March, 12:00”; None where no promise was broken."""
    tz = fault.unit.site.tz
    if _overdue(fault) and fault.expected_back:
        return f"was expected back {say(fault.expected_back, tz)}, and is not"
    promised = list(fault.events.order_by("-at", "-pk").values_list("expected_back", flat=True)[:2])
    before, back = promised[1] if len(promised) > 1 else None, fault.expected_back
    if before is None or (back is not None and back <= before):
        return None
    now = f"now {say(back, tz)}" if back else "nobody knows now when it will be"
    return f"was expected back {say(before, tz)}, and {now}"


def _overdue(fault: Fault) -> bool:
    return fault.expected_back is not None and fault.expected_back <= timezone.now()


def concerned(session: Session) -> Iterable[Person]:
    """Its engineers and assistants; the managers where it has none yet."""
    crew = {
        call.person
        for call in session.crew.all()
        if call.assigned and call.person.is_active and call.role in {Role.ENGINEER, Role.ASSISTANT}
    }
    return sorted(crew, key=str) or Person.objects.with_role(Role.MANAGER)


def _tell(person: Person, session: Session, fault: Fault, words: str) -> None:
    tz, name = session.room.site.tz, str(fault.channel or fault.unit)
    promise = f"{fault.expected_back:%Y%m%d%H%M}" if fault.expected_back else "open"
    event = fault.events.last()
    tell(
        person,
        f"fault.{fault.pk}.{event.pk if event else 0}.{promise}.slip.{session.uid.hex[:12]}.{person.pk}",
        f"{name} will not be back for {session.title}",
        f"{name} {words}.\n"
        f"It was meant for “{session.title}”, {session.room.name}, downbeat {say(session.downbeat, tz)}. "
        "The plan is made anew without it: look at what stands in.",
        session.clear_at,
        reverse("bookings:session", args=[session.pk]),
    )
