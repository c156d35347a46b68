"""Where units are, and what belongs to them: stays away from home, journeys, parts of sets, counts of a room."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.db.models import F, Q

from studio.models.gear import GearUnit
from studio.models.people import Person
from studio.models.places import Room, Site
from studio.spans import Span


class StayQuerySet(models.QuerySet["Stay"]):
    def open(self) -> StayQuerySet:
        return self.filter(ended_at__isnull=True)


class Stay(models.Model):
    """A unit somewhere other than at home since began_at: in a room, or with somebody. One at a time.

    due_at is when it should be back; ended_at when it was. claims keep it from being used meanwhile where
    the stay is outside the house.
    """

    class Kind(models.TextChoices):
        ROOM = "room", "moved"
        LOAN = "loan", "lent"
        HIRE_OUT = "hire_out", "hired out"

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="stays")
    kind = models.CharField(max_length=8, choices=Kind)
    room = models.ForeignKey(Room, on_delete=models.PROTECT, null=True, blank=True, related_name="stays")
    holder = models.CharField("with whom", max_length=120, blank=True)
    began_at = models.DateTimeField()
    due_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="moved")
    returned_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="brought_back"
    )
    remark = models.CharField(max_length=300, blank=True)

    objects = StayQuerySet.as_manager()

    class Meta:
        ordering = ["-began_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit"], condition=Q(ended_at__isnull=True), name="studio_stay_one_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("began_at")),
                name="studio_stay_ends_after_it_began",
            ),
            models.CheckConstraint(
                condition=Q(kind="room", room__isnull=False) | (~Q(kind="room") & ~Q(holder="")),
                name="studio_stay_says_where",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit}: {self.where}"

    @property
    def where(self) -> str:
        return str(self.room) if self.room else f"{self.get_kind_display()} to {self.holder}"

    @property
    def span(self) -> Span:
        return Span(self.began_at, self.ended_at)


class MoveQuerySet(models.QuerySet["Move"]):
    def open(self) -> MoveQuerySet:
        return self.filter(closed_at__isnull=True)

    def with_places(self) -> MoveQuerySet:
        return self.select_related("unit__site", "unit__home_room__site", "room__site", "asked_by")


class Move(models.Model):
    """A unit that somebody is asked to bring to a room. Open until it is done or called off.

    minutes: how long it is on its way, 0 within a site; meanwhile it is claimed. due_at: when it should be back.
    """

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="moves")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="moves")
    leaves_at = models.DateTimeField()
    minutes = models.PositiveSmallIntegerField()
    due_at = models.DateTimeField(null=True, blank=True)
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="moves_asked")
    asked_at = models.DateTimeField()
    done = models.BooleanField(default=False)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="moves_closed"
    )

    objects = MoveQuerySet.as_manager()

    class Meta:
        ordering = ["leaves_at", "pk"]

    def __str__(self) -> str:
        return f"{self.unit} to {self.room}"

    @property
    def arrives_at(self) -> datetime:
        return self.leaves_at + timedelta(minutes=self.minutes)


class Journey(models.Model):
    """How long it takes to carry gear between two sites."""

    first = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="journeys_first")
    second = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="journeys_second")
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["first", "second"], name="studio_journey_once"),
            models.CheckConstraint(condition=Q(first__lt=F("second")), name="studio_journey_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.first} to {self.second}: {self.minutes} min"


class Part(models.Model):
    """What belongs to a unit and has no tag of its own: supply, lead, mount, case.

    needed: the unit can't be used without it. missing_since is empty for what is there.
    """

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="parts")
    name = models.CharField(max_length=80)
    needed = models.BooleanField("it can't be used without", default=True)
    missing_since = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["unit", "name"]
        constraints = [models.UniqueConstraint(fields=["unit", "name"], name="studio_part_once")]

    def __str__(self) -> str:
        return f"{self.unit}: {self.name}"


class StockTake(models.Model):
    """A count of a room: what was scanned there. Closed when its differences have been looked at."""

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="stock_takes")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="stock_takes")
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-begun_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.room}, {self.begun_at:%Y-%m-%d}"


class Scanned(models.Model):
    """One label that was read in a count. unit is empty for a label that no unit has."""

    stock_take = models.ForeignKey(StockTake, on_delete=models.CASCADE, related_name="scanned")
    text = models.CharField(max_length=200)
    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, null=True, related_name="scans")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="scans")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["stock_take", "unit"], name="studio_scanned_once_a_count")
        ]

    def __str__(self) -> str:
        return self.text


class RoomNote(models.Model):
    """A known quirk of a room, or an exception that stays switched on until somebody ends it."""

    class Kind(models.TextChoices):
        QUIRK = "quirk", "known quirk"
        STAYS = "stays", "stays as it is"

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="notes")
    kind = models.CharField(max_length=6, choices=Kind)
    words = models.CharField(max_length=300)
    since = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="room_notes")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["kind", "-since", "-pk"]

    def __str__(self) -> str:
        return f"{self.room}: {self.words}"
