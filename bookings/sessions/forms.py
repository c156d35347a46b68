"""The form in which a session is booked or changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import time
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.db.models import Q, QuerySet
from django.http import QueryDict

from bookings.drafts import Draft, as_draft, in_minutes
from bookings.models import Job, Session, SessionKind
from bookings.sessions.choices import NOT_A_ROOM, JobChoice, RoomChoice, RoomsBeside, minutes_field
from bookings.sessions.crewfields import ASSIGNED, WANTED, CrewFields, people_of
from bookings.sessions.dayfields import DAY_FIELDS, DayFields
from bookings.sessions.fields import KnownClients, Line, Lines, OneOf, WallTime, as_wall
from bookings.sessions.gearfields import GearFields, tags_of
from bookings.sessions.holdfields import HoldFields, day_of_lapse
from bookings.sessions.kindfields import KindFields
from bookings.sessions.times import ZonedTimesForm, whiches
from studio.models import Room

JOBS_OFFERED = Q(closed_at=None, client__is_house=False)
BOOKABLE = Q(bookable=True)


class SessionForm(HoldFields, KindFields, DayFields, CrewFields, GearFields, ZonedTimesForm):
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
        queryset=Room.objects.none(),
        label="Room",
        empty_label="choose a room",
        error_messages={"required": "Choose a room.", "invalid_choice": NOT_A_ROOM},
    )
    beside = RoomsBeside(
        queryset=Room.objects.none(),
        label="Rooms beside it",
        help_text="Taken together with it, for the same hours.",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": NOT_A_ROOM, "invalid_pk_value": NOT_A_ROOM},
    )
    load_in = WallTime(label="Load-in", missing="When may the client load in?")
    downbeat = WallTime(label="Downbeat", missing="When is the agreed start?")
    end = WallTime(label="End", missing="When does the session end?")
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
        self._offer("job", Job.objects.select_related("client"), JOBS_OFFERED, jobs_of(session))
        rooms = Room.objects.select_related("site")
        self._offer("room", rooms, BOOKABLE, [session.room_id] if session else [])
        self._offer("beside", rooms, BOOKABLE, beside_of(session))
        self.offer_kinds()
        self.offer_people()
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
            self.check_kind(room)
            self.check_order(room, self.nature)
            self.check_hold(room)
            self._check_beside(room)
        self.check_people()
        self.check_gear()
        self._check_job()
        return self.cleaned_data

    def _check_beside(self, room: Room) -> None:
        """Of the same site, and none taken with another of them anyway."""
        beside = self.cleaned_data.get("beside") or []
        with_it = {
            each: {part.pk for part in each.with_parts()} - {each.pk} for each in (room, *beside) if beside
        }
        for other in beside:
            whole = next((each for each, parts in with_it.items() if other.pk in parts), None)
            if other == room:
                self.add_error("beside", f"{other} is the session's room already. Take it out here.")
            elif other.site_id != room.site_id:
                words = f"{other} is at {other.site}, {room} at {room.site}: book two sessions."
                self.add_error("beside", words)
            elif whole:
                self.add_error("beside", f"{other} is a part of {whole} and taken with it. Take it out here.")
            elif room.pk in with_it[other]:
                words = f"{room} is a part of {other} and taken with it. Choose {other} as the room instead."
                self.add_error("beside", words)

    def _check_job(self) -> None:
        client, title = self.cleaned_data.get("new_client"), self.cleaned_data.get("new_job")
        if "job" in self.errors or "new_client" in self.errors or "new_job" in self.errors:
            return
        if job := self.cleaned_data.get("job"):
            if job.client.is_house and self.nature == SessionKind.Nature.WORK:
                words = f"“{job.title}” is the house's own job, for upkeep and closures. Choose whose session it is."
                self.add_error("job", words)
            elif client or title:
                self.add_error("job", "Either choose a job or type a new one: empty one of the two.")
        elif not client and not title and self.nature != SessionKind.Nature.WORK:
            return  # the house's own job
        elif not client and not title:
            self.add_error("job", "Choose the session's job, or type a client and a new job below.")
        elif not client:
            self.add_error("new_client", "Whose job is it? Type the client's name.")
        elif not title:
            self.add_error("new_job", "Give the new job a title.")

    @property
    def room_and_times(self) -> bool:
        """Whether enough is known to say what is in the way."""
        wrong = {*self.times, "setup_minutes", "turnaround_minutes", "spare_minutes", "beside", *DAY_FIELDS}
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
            crew=tuple(self.crew()),
            setup_minutes=typed.get("setup_minutes"),
            turnaround_minutes=typed.get("turnaround_minutes"),
            instrument_list=typed.get("instrument_list", ""),
            note=typed.get("note", ""),
            status=self.status,
            hold_until=self.hold_until_typed(),
            kind=self.chosen_kind,
            spare_minutes=typed.get("spare_minutes") or 0,
            beside=tuple(typed.get("beside") or ()),
            day_hours=self.day_hours,
            wanted_units=self.wanted_units,
        )

    def _standing_draft(self, job_id: int) -> Draft:
        """What a change starts from, so that nothing is lost that isn't on the form."""
        if self.session:
            return as_draft(self.session)
        load_in, downbeat, end = (self.instants[name] for name in self.times)
        return Draft(job_id, self.cleaned_data["room"], "", load_in, downbeat, end)


def initial_of(session: Session) -> dict[str, Any]:
    """The values of the form for a session as it stands."""
    tz, room = session.room.site.tz, session.room
    instants = {name: getattr(session, name) for name in SessionForm.times}
    setup = in_minutes(session.load_in - session.setup_at)
    turnaround = in_minutes(session.clear_at - session.last)
    usual = (room.setup_minutes, room.turnaround_minutes) if session.is_work else (0, 0)
    crew = {name: people_of(session, role, True) for name, role in ASSIGNED.items()}
    crew |= {name: people_of(session, role, False) for name, role in WANTED.items()}
    return {
        "job": session.job_id,
        "title": session.title,
        "room": session.room_id,
        "kind": session.kind.name.casefold() if session.kind else "",
        "beside": beside_of(session),
        **{name: as_wall(moment, tz) for name, moment in instants.items()},
        **whiches(instants, tz),
        **crew,
        "spare_minutes": in_minutes(session.last - session.end) or None,
        "day_from": as_hour(session.day_from),
        "day_to": as_hour(session.day_to),
        "wanted_gear": tags_of(session),
        "setup_minutes": None if setup == usual[0] else setup,
        "turnaround_minutes": None if turnaround == usual[1] else turnaround,
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


def beside_of(session: Session | None) -> list[int]:
    return [room.pk for room in session.beside.all()] if session else []


def as_hour(hour: time | None) -> str:
    return f"{hour:%H:%M}" if hour else ""
