"""The fields of the booking form that say who comes: assigned for sure, or only wanted so far."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django import forms
from django.db.models import Q

from bookings.drafts import Called
from bookings.models import Crew, Session
from bookings.sessions.choices import people_field
from studio.choices import SomeOf
from studio.models import Person, Role

ASSIGNED = {"engineers": Role.ENGINEER, "assistants": Role.ASSISTANT}
WANTED = {"wanted_engineers": Role.ENGINEER, "wanted_assistants": Role.ASSISTANT}


class CrewFields(forms.Form):
    session: Session | None
    instants: dict[str, datetime]

    engineers = people_field("Engineers")
    assistants = people_field("Assistants")
    wanted_engineers = people_field("Engineers only wanted")
    wanted_assistants = people_field("Assistants only wanted")

    def offer_people(self) -> None:
        """Whoever works here in that role, and whoever stands on the session."""
        for name, role in (ASSIGNED | WANTED).items():
            field = self.fields[name]
            assert isinstance(field, SomeOf)  # noqa: S101 - tells the type checker
            working = Q(is_active=True, roles_held__role=role)
            standing = Q(pk__in=[*people_of(self.session, role, True), *people_of(self.session, role, False)])
            field.queryset = Person.objects.filter(working | standing).distinct().order_by("name", "pk")

    def check_people(self) -> None:
        """Each person once: as one thing, and either assigned or wanted."""
        seen: dict[int, str] = {}
        for name in ASSIGNED | WANTED:
            for person in self.cleaned_data.get(name) or []:
                before = seen.setdefault(person.pk, said_as(name))
                if before != said_as(name):
                    words = f"{person.name} is down {before} and {said_as(name)}. Take one of the two out."
                    self.add_error(name, words)

    def crew(self) -> Iterable[Called]:
        """Everybody chosen, and who stands on the session in a role that the form doesn't show."""
        standing = {call.person_id: call for call in self.session.crew.all()} if self.session else {}
        for fields, assigned in ((ASSIGNED, True), (WANTED, False)):
            for name, role in fields.items():
                for person in self.cleaned_data.get(name) or []:
                    own = self._own_call(standing.get(person.pk), role)
                    yield Called(person.pk, role, own, assigned)
        for call in standing.values():
            if call.role not in ASSIGNED.values():
                yield Called(call.person_id, call.role, self._own_call(call, call.role), call.assigned)

    def _own_call(self, call: Crew | None, role: str) -> datetime | None:
        """Someone called at an hour of their own keeps the distance to the load-in."""
        if self.session is None or call is None or call.role != role:
            return None
        usual = self.session.setup_at if role == Role.ASSISTANT else self.session.load_in
        if call.call_at == usual:
            return None
        return call.call_at + (self.instants["load_in"] - self.session.load_in)


def said_as(name: str) -> str:
    role = (ASSIGNED | WANTED)[name]
    return f"as {role.label}" if name in ASSIGNED else f"as {role.label} only wanted"


def people_of(session: Session | None, role: str, assigned: bool) -> list[int]:
    calls = session.crew.all() if session else []
    return [call.person_id for call in calls if call.role == role and call.assigned == assigned]
