"""Sessions: a room, three times, people and an instrument list."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.contrib.contenttypes.fields import GenericRelation
from django.db import models
from django.db.models import F, Q

from bookings.lockouts import working_days
from bookings.models.jobs import Job
from bookings.models.kinds import SessionKind
from bookings.models.series import Series
from studio.access import sees_house
from studio.models import Claim, GearUnit, Person, Role, Room
from studio.spans import Span


class SessionQuerySet(models.QuerySet["Session"]):
    def standing(self) -> SessionQuerySet:
        """Not cancelled."""
        return self.exclude(status=Session.Status.CANCELLED)

    def holds(self, now: datetime) -> SessionQuerySet:
        """Holds that stand. One whose time is over has fallen, though the tick may still have to say so."""
        asked = Q(answer_by__isnull=True) | Q(answer_by__gt=now)
        return self.filter(asked, status=Session.Status.HELD, lapses_at__gt=now)

    def fallen(self, now: datetime) -> SessionQuerySet:
        """Holds whose time is over and which still have to be let go."""
        over = Q(lapses_at__lte=now) | Q(answer_by__lte=now)
        return self.filter(over, status=Session.Status.HELD)

    def touching(self, span: Span) -> SessionQuerySet:
        """Sessions whose setup, session or turnaround shares an instant with the span."""
        found = self.filter(clear_at__gt=span.start)
        return found if span.end is None else found.filter(setup_at__lt=span.end)

    def seen_by(self, person: Person) -> SessionQuerySet:
        """Of freelancers those that they are on, of everybody else all."""
        if sees_house(person):
            return self.all()
        return self.filter(pk__in=Crew.objects.filter(person=person).values("session"))

    def with_all(self) -> SessionQuerySet:
        """With everything that a page or a feed shows, in a constant number of queries."""
        found = self.select_related("job__client", "room__site", "kind")
        return found.prefetch_related("crew__person")


class Session(models.Model):
    """load_in, downbeat and end differ; setup_at and clear_at are when the room is taken from and until.

    spare_until: agreed time after the end, kept free and paid only if it is used. beside: rooms taken together
    with `room`. A lockout has day_from and day_to, the hours worked on each of its days: between them the room
    stays set. series and occurrence: see Series.

    version counts every change (a form says which one it was filled in from); sequence counts those that
    calendars must notice (RFC 5545 section 3.8.7.4).

    Of a hold: held_at is when it was asked for, which gives its place in line; it falls at lapses_at, or at
    answer_by when it has been asked to answer a challenge; challenged_at says since when it challenges those
    above it. Of a confirmed session: terms are those of the day it was confirmed (bookings.terms).
    """

    class Status(models.TextChoices):
        HELD = "held", "held"
        CONFIRMED = "confirmed", "confirmed"
        CANCELLED = "cancelled", "cancelled"

    class CancelledBy(models.TextChoices):
        CLIENT = "client", "the client"
        HOUSE = "house", "the house"
        NEITHER = "neither", "neither of them"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="sessions")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="sessions")
    beside = models.ManyToManyField(Room, blank=True, related_name="sessions_beside")
    kind = models.ForeignKey(
        SessionKind, on_delete=models.PROTECT, null=True, blank=True, related_name="sessions"
    )
    title = models.CharField(max_length=120)
    status = models.CharField(max_length=10, choices=Status, default=Status.CONFIRMED)
    setup_at = models.DateTimeField()
    load_in = models.DateTimeField()
    downbeat = models.DateTimeField()
    end = models.DateTimeField()
    spare_until = models.DateTimeField(null=True, blank=True)
    clear_at = models.DateTimeField()
    day_from = models.TimeField(null=True, blank=True)
    day_to = models.TimeField(null=True, blank=True)
    series = models.ForeignKey(
        Series, on_delete=models.SET_NULL, null=True, blank=True, related_name="sessions"
    )
    occurrence = models.DateTimeField(null=True, blank=True)
    instrument_list = models.TextField(blank=True)
    wanted_units = models.ManyToManyField(GearUnit, blank=True, related_name="wanted_by")
    note = models.TextField(blank=True)
    held_at = models.DateTimeField(null=True, blank=True)
    lapses_at = models.DateTimeField(null=True, blank=True)
    challenged_at = models.DateTimeField(null=True, blank=True)
    answer_by = models.DateTimeField(null=True, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    terms = models.JSONField(null=True, blank=True)
    deposit_in_at = models.DateTimeField(null=True, blank=True)
    worked_from = models.DateTimeField(null=True, blank=True)
    worked_to = models.DateTimeField(null=True, blank=True)
    handover = models.TextField(blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_because = models.CharField(max_length=200, blank=True)
    cancelled_by = models.CharField(max_length=8, choices=CancelledBy, blank=True)
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    form_key = models.UUIDField(null=True, unique=True, editable=False)
    version = models.PositiveIntegerField(default=1)
    sequence = models.PositiveIntegerField(default=0)
    made_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    claims = GenericRelation(Claim, content_type_field="origin_type", object_id_field="origin_id")

    objects = SessionQuerySet.as_manager()

    class Meta:
        ordering = ["downbeat", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(setup_at__lte=F("load_in"))
                & Q(load_in__lte=F("downbeat"))
                & Q(downbeat__lt=F("end"))
                & Q(end__lte=F("clear_at"))
                & (Q(spare_until__isnull=True) | Q(spare_until__gt=F("end"), spare_until__lte=F("clear_at"))),
                name="bookings_session_times_in_order",
            ),
            models.CheckConstraint(
                condition=Q(day_from__isnull=True, day_to__isnull=True)
                | Q(day_from__isnull=False, day_to__isnull=False),
                name="bookings_session_lockout_hours_whole",
            ),
            models.UniqueConstraint(fields=["series", "occurrence"], name="bookings_session_occurrence_once"),
            models.CheckConstraint(
                condition=Q(worked_to__isnull=True) | Q(worked_to__gt=F("worked_from")),
                name="bookings_session_worked_in_order",
            ),
            models.CheckConstraint(
                condition=~Q(status="held") | Q(held_at__isnull=False, lapses_at__isnull=False),
                name="bookings_session_hold_has_its_times",
            ),
        ]
        indexes = [
            models.Index(fields=["room", "downbeat"], name="bookings_session_in_room"),
            models.Index(fields=["clear_at", "setup_at"], name="bookings_session_when"),
            models.Index(fields=["status", "lapses_at"], name="bookings_session_lapses"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def whole(self) -> Span:
        """From setup to clear: the span in which gear and room are taken."""
        return Span(self.setup_at, self.clear_at)

    @property
    def booked(self) -> timedelta:
        """Paid time: from load-in to end (setup by the client is inside the paid time; common practice).

        Of a lockout: the hours of its days, not the nights between them.
        """
        return sum((day.length for day in self.days), timedelta())

    @property
    def days(self) -> list[Span]:
        """The spans in which it is worked: one, or one a day for a lockout."""
        hours = (self.day_from, self.day_to) if self.day_from and self.day_to else None
        return working_days(Span(self.load_in, self.end), hours, self.room.site.tz)

    @property
    def last(self) -> datetime:
        """The end, or that of the spare time after it."""
        return self.spare_until or self.end

    @property
    def spare_used(self) -> timedelta:
        """How much of the spare time was worked."""
        if self.spare_until is None or self.worked_to is None:
            return timedelta()
        return max(timedelta(), min(self.worked_to, self.spare_until) - self.end)

    @property
    def paid(self) -> timedelta:
        """What is charged for: the booked time and what was used of the spare time."""
        return self.booked + self.spare_used

    @property
    def worked(self) -> timedelta | None:
        if self.worked_from is None or self.worked_to is None:
            return None
        return self.worked_to - self.worked_from

    @property
    def is_work(self) -> bool:
        """A session with a client, not upkeep or a closure."""
        return self.kind is None or self.kind.nature == SessionKind.Nature.WORK

    @property
    def is_lockout(self) -> bool:
        return self.day_from is not None

    @property
    def is_hold(self) -> bool:
        return self.status == self.Status.HELD

    @property
    def cancelled(self) -> bool:
        return self.status == self.Status.CANCELLED


class Crew(models.Model):
    """A person of the house on a session, as what, and from when.

    Who isn't assigned is only wanted: asked for by somebody, and not taken. answer is what they said to the
    invitation for these hours (RFC 5545 section 3.2.12); it is forgotten when their hours or the room change.
    """

    class Answer(models.TextChoices):
        NONE = "none", "no answer"
        ACCEPTED = "accepted", "accepted"
        TENTATIVE = "tentative", "perhaps"
        DECLINED = "declined", "declined"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="crew")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="calls")
    role = models.CharField(max_length=10, choices=Role)
    call_at = models.DateTimeField()
    until = models.DateTimeField()
    assigned = models.BooleanField(default=True)
    answer = models.CharField(max_length=10, choices=Answer, default=Answer.NONE)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["call_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "person"], name="bookings_person_once_on_session"),
            models.CheckConstraint(condition=Q(until__gt=F("call_at")), name="bookings_call_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_role_display()}"

    @property
    def span(self) -> Span:
        return Span(self.call_at, self.until)


class TakenOff(models.Model):
    """Somebody who was on a session and is not any more: their calendar must be told."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="taken_off")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="taken_off")
    role = models.CharField(max_length=10, choices=Role)
    call_at = models.DateTimeField()
    until = models.DateTimeField()
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["session", "person"], name="bookings_taken_off_once")]

    def __str__(self) -> str:
        return f"{self.person}, taken off"


class SessionEntry(models.Model):
    """The session's history: who changed what and when. Never altered, never deleted."""

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="history")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    what = models.CharField(max_length=20)
    words = models.TextField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.what}: {self.words}"
