"""The form in which a session is booked or changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.db.models import Q, QuerySet
from django.http import QueryDict

from bookings.drafts import Called, Draft, as_draft, in_minutes
from bookings.models import Crew, Job, Session
from bookings.sessions.fields import (
    KnownClients,
    Line,
    Lines,
    OneOf,
    WallTime,
    as_wall,
)
from bookings.sessions.holdfields import HoldFields, day_of_lapse
from bookings.sessions.times import ZonedTimesForm, whiches
from studio.choices import SomeOf
from studio.clock import say, say_length
from studio.models import Person, Role, Room

LONGEST = timedelta(hours=72)
MOST_MINUTES = 24 * 60
CREW_FIELDS = {"engineers": Role.ENGINEER, "assistants": Role.ASSISTANT}
NOT_IN_THE_HOUSE = "One of these people isn't in the house (any more). Choose from the list."


class RoomChoice(OneOf):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, {obj.site.name}"


class JobChoice(OneOf):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.client.name}: {obj.title}"


def people_field(label: str) -> SomeOf:
    return SomeOf(
        queryset=Person.objects.none(),
        label=label,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": NOT_IN_THE_HOUSE, "invalid_pk_value": NOT_IN_THE_HOUSE},
    )


def minutes_field(label: str, help_text: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        help_text=help_text,
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        error_messages={
            "invalid": "Write the minutes as a whole number, like 45.",
            "min_value": "Minutes can't be fewer than 0.",
            "max_value": f"At most {MOST_MINUTES} minutes fit here (a day).",
        },
    )


class SessionForm(HoldFields, ZonedTimesForm):
    """Without a `session` it is a new one, guarded by form_key; with one, `version` says which was opened."""

    times = ("load_in", "downbeat", "end")

    job = JobChoice(
        queryset=Job.objects.none(),
        label="Job",
        required=False,
        empty_label="a new job, typed below",
        error_messages={"invalid_choice": "That job isn't open. Choose one of the list or type a new one."},
    )
    new_client = Line(label="Client", max_length=120, widget=KnownClients)
    new_job = Line(label="Title of the new job", max_length=120)
    title = Line(label="Title of the session", max_length=120, missing="Give the session a title.")
    room = RoomChoice(
        queryset=Room.objects.select_related("site"),
        label="Room",
        empty_label="choose a room",
        error_messages={
            "required": "Choose a room.",
            "invalid_choice": "That room isn't one of the house's. Choose one of the list.",
        },
    )
    load_in = WallTime(label="Load-in", missing="When may the client load in?")
    downbeat = WallTime(label="Downbeat", missing="When is the agreed start?")
    end = WallTime(label="End", missing="When does the session end?")
    engineers = people_field("Engineers")
    assistants = people_field("Assistants")
    setup_minutes = minutes_field("Setup minutes", "Before load-in. Empty: as the room has it.")
    turnaround_minutes = minutes_field("Turnaround minutes", "After the end. Empty: as the room has it.")
    instrument_list = Lines(label="Instrument list", max_length=20_000, rows=8, strip=False)
    note = Lines(label="Note for the house", max_length=5_000, rows=3)
    form_key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, session: Session | None = None, **kwargs: Any) -> None:
        initial = initial_of(session) if session else {"form_key": uuid4()}
        kwargs["initial"] = initial | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        self.session = session
        self._offer("job", Job.objects.select_related("client"), Q(closed_at=None), jobs_of(session))
        for name, role in CREW_FIELDS.items():
            working = Q(is_active=True, roles_held__role=role)
            self._offer(name, Person.objects.order_by("name"), working, people_of(session, role))
        if session:
            self.keep_standing(session)
            for field in self.fields.values():
                field.show_hidden_initial = not isinstance(field.widget, forms.HiddenInput)

    def _offer(self, name: str, rows: QuerySet[Any], usual: Q, standing: Iterable[int]) -> None:
        field = cast(OneOf, self.fields[name])
        field.queryset = rows.filter(usual | Q(pk__in=list(standing))).distinct()

    def clean(self) -> dict[str, Any]:
        room = self.cleaned_data.get("room")
        if room:
            self.find_instants(room.site.tz)
            self._check_order(room)
            self.check_hold(room)
        self._check_people()
        self._check_job()
        return self.cleaned_data

    def _check_order(self, room: Room) -> None:
        if not all(name in self.instants for name in self.times):
            return
        load_in, downbeat, end = (self.instants[name] for name in self.times)
        tz = room.site.tz
        if downbeat < load_in:
            self.add_error("downbeat", f"The downbeat can't come before the load-in ({say(load_in, tz)}).")
        elif end == downbeat:
            self.add_error("end", "The session would have no length: it has to end after its downbeat.")
        elif end < downbeat:
            self.add_error("end", f"The session can't end before its downbeat ({say(downbeat, tz)}).")
        elif end - load_in > LONGEST:
            self.add_error(
                "end",
                f"That is {say_length(end - load_in)} long. One booking holds at most {say_length(LONGEST)}: "
                "check the date, or book day by day.",
            )

    def _check_people(self) -> None:
        engineers = set(self.cleaned_data.get("engineers") or [])
        for person in self.cleaned_data.get("assistants") or []:
            if person in engineers:
                words = f"{person.name} is down as engineer and as assistant. Take one of the two out."
                self.add_error("assistants", words)

    def _check_job(self) -> None:
        client, title = self.cleaned_data.get("new_client"), self.cleaned_data.get("new_job")
        if "job" in self.errors or "new_client" in self.errors or "new_job" in self.errors:
            return
        if self.cleaned_data.get("job"):
            if client or title:
                self.add_error("job", "Either choose a job or type a new one: empty one of the two.")
        elif not client and not title:
            self.add_error("job", "Choose the session's job, or type a client and a new job below.")
        elif not client:
            self.add_error("new_client", "Whose job is it? Type the client's name.")
        elif not title:
            self.add_error("new_job", "Give the new job a title.")

    @property
    def room_and_times(self) -> bool:
        """Whether enough is known to say what is in the way."""
        wrong = set(self.times) | {"setup_minutes", "turnaround_minutes"}
        return len(self.instants) == len(self.times) and not wrong & set(self.errors)

    def draft(self, job_id: int) -> Draft:
        """What was typed, once it is clean (for a question about the times, room_and_times is enough)."""
        typed = self.cleaned_data
        return replace(
            self._standing_draft(job_id),
            job_id=job_id,
            room=typed["room"],
            title=typed.get("title", ""),
            load_in=self.instants["load_in"],
            downbeat=self.instants["downbeat"],
            end=self.instants["end"],
            crew=tuple(self._crew()),
            setup_minutes=typed.get("setup_minutes"),
            turnaround_minutes=typed.get("turnaround_minutes"),
            instrument_list=typed.get("instrument_list", ""),
            note=typed.get("note", ""),
            status=self.status,
            hold_until=self.hold_until_typed(),
        )

    def _standing_draft(self, job_id: int) -> Draft:
        """What a change starts from, so that nothing is lost that isn't on the form."""
        if self.session:
            return as_draft(self.session)
        times = (self.instants[name] for name in self.times)
        return Draft(job_id, self.cleaned_data["room"], "", *times)

    def _crew(self) -> Iterable[Called]:
        standing = {call.person_id: call for call in self.session.crew.all()} if self.session else {}
        for name, role in CREW_FIELDS.items():
            for person in self.cleaned_data.get(name) or []:
                call = standing.get(person.pk)
                yield Called(person.pk, role, self._own_call(call, role), call.assigned if call else True)
        for call in standing.values():
            if call.role not in CREW_FIELDS.values():
                yield Called(call.person_id, call.role, self._own_call(call, call.role), call.assigned)

    def _own_call(self, call: Crew | None, role: str) -> datetime | None:
        """Someone called at an hour of their own keeps the distance to the load-in."""
        if self.session is None or call is None or call.role != role:
            return None
        usual = self.session.setup_at if role == Role.ASSISTANT else self.session.load_in
        if call.call_at == usual:
            return None
        return call.call_at + (self.instants["load_in"] - self.session.load_in)


def initial_of(session: Session) -> dict[str, Any]:
    """The values of the form for a session as it stands."""
    tz, room = session.room.site.tz, session.room
    instants = {name: getattr(session, name) for name in SessionForm.times}
    setup = in_minutes(session.load_in - session.setup_at)
    turnaround = in_minutes(session.clear_at - session.last)
    crew = {name: people_of(session, role) for name, role in CREW_FIELDS.items()}
    return {
        "job": session.job_id,
        "title": session.title,
        "room": session.room_id,
        **{name: as_wall(moment, tz) for name, moment in instants.items()},
        **whiches(instants, tz),
        **crew,
        "setup_minutes": None if setup == room.setup_minutes else setup,
        "turnaround_minutes": None if turnaround == room.turnaround_minutes else turnaround,
        "instrument_list": session.instrument_list,
        "note": session.note,
        "hold_until": day_of_lapse(session),
        "version": session.version,
    }


def as_posted(session: Session) -> QueryDict:
    """The form for a session as a browser would send it untouched."""
    data = QueryDict(mutable=True)
    for name, value in initial_of(session).items():
        values = value if isinstance(value, list) else ["" if value is None else value]
        for key in (name, f"initial-{name}"):
            data.setlist(key, [str(one) for one in values])
    return data


def jobs_of(session: Session | None) -> list[int]:
    return [session.job_id] if session else []


def people_of(session: Session | None, role: str) -> list[int]:
    return [call.person_id for call in session.crew.all() if call.role == role] if session else []
