"""Sites and rooms. A room may be a composite of others: taking it takes its parts."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable
from datetime import time
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from studio.models.claims import Claimable, Resource
from studio.models.telling import TellingManager
from studio.terms import read_steps

DAYS_OF_WEEK = RegexValidator(r"\A(?!.*(.).*\1)[1-7]+\Z", "Write each office day once, 1 for Monday to 7.")


def known_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"“{name}” is not a zone of the IANA database. Write it like Europe/Berlin.")


def readable_steps(text: str) -> None:
    try:
        read_steps(text)
    except ValueError as error:
        raise ValidationError(str(error)) from None


class Site(models.Model):
    """With the house's own hours and terms. office_days: ISO 8601 weekdays in one word, Monday is 1.

    revision rises with whatever may change a calendar of the site, epoch with a name that stands in many.
    cancel_steps: a line for each step, read by studio.terms. The defaults are a first guess (common
    practice, no single source).
    """

    name = models.CharField(max_length=80, unique=True)
    zone = models.CharField(max_length=60, validators=[known_zone], help_text="IANA name, like Europe/Berlin")
    opens = models.TimeField("office opens", default=time(10))
    closes = models.TimeField("office closes", default=time(18))
    office_days = models.CharField(max_length=7, default="12345", validators=[DAYS_OF_WEEK])
    answer_hours = models.PositiveSmallIntegerField(
        "hours to answer a challenge",
        default=24,
        validators=[MinValueValidator(1), MaxValueValidator(240)],
        help_text="Counted on office days only.",
    )
    hold_days = models.PositiveSmallIntegerField(
        "days a hold stands", default=7, validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    decide_hour = models.TimeField(
        "hour at which holds for tomorrow are asked",
        default=time(16),
        help_text="From then on they need a yes or no.",
    )
    cancel_steps = models.TextField(
        "cancellation steps",
        default="72 h: 50 %\n24 h: 100 %",
        blank=True,
        validators=[readable_steps],
        help_text="One a line: with this much notice or less, this part of the price, like “72 h: 50 %”.",
    )
    deposit_percent = models.PositiveSmallIntegerField(
        "deposit, %", default=50, validators=[MaxValueValidator(100)]
    )
    notice = models.CharField(
        "how notice must come", max_length=120, default="in writing, by e-mail or letter", blank=True
    )
    rest_hours = models.PositiveSmallIntegerField(
        "hours of rest between two days' calls",
        default=11,
        validators=[MaxValueValidator(24)],
        help_text="A warning below it; 0 for none. 11 is the usual European figure: check local law.",
    )
    weekly_rest_hours = models.PositiveSmallIntegerField(
        "hours of unbroken rest in any seven days",
        default=35,
        validators=[MaxValueValidator(167)],
        help_text="A warning below it; 0 for none. 35 is the usual European figure: check local law.",
    )

    revision = models.PositiveBigIntegerField(default=0, editable=False)
    epoch = models.PositiveBigIntegerField(default=0, editable=False)

    objects: ClassVar[models.Manager[Site]] = TellingManager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens")), name="studio_site_closes_after_opening"
            )
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """revision and epoch only ever rise in the database: what was read a while ago must not set them back."""
        if not self._state.adding and kwargs.get("update_fields") is None:
            names = {field.name for field in self._meta.concrete_fields if not field.primary_key}
            kwargs["update_fields"] = names - {"revision", "epoch"}
        super().save(*args, **kwargs)

    @property
    def tz(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.zone)


class Room(Claimable):
    """lines: wall-box lines; recorder_inputs: inputs of the recorder that this room reaches.

    What isn't known restricts nothing. cable_run_m: from a microphone to the wall box, with slack, as it usually is.
    patch_points: how many lines can be patched to a preamp that they don't reach by themselves. mains_v and circuit_a:
    of the circuit that feeds the room's outlets, RMS volts and amperes.
    """

    resource_kind = Resource.Kind.ROOM

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=80)
    remark = models.CharField(max_length=120, blank=True)
    parts = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="wholes")
    setup_minutes = models.PositiveSmallIntegerField(default=60)
    turnaround_minutes = models.PositiveSmallIntegerField(default=60)
    lines = models.PositiveSmallIntegerField(default=0)
    recorder_inputs = models.PositiveSmallIntegerField(default=0)
    cable_run_m = models.FloatField(
        "usual run of a microphone cable, m",
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(200)],
        help_text="From the microphone to the wall box, slack included.",
    )
    patch_points = models.PositiveSmallIntegerField(
        "patch points",
        null=True,
        blank=True,
        help_text="Lines that can be patched to a preamp which isn't wired to them. Empty where it isn't known.",
    )
    mains_outlets = models.PositiveSmallIntegerField("mains outlets free for gear", null=True, blank=True)
    mains_v = models.PositiveSmallIntegerField("mains voltage, V", null=True, blank=True)
    circuit_a = models.PositiveSmallIntegerField(
        "circuit, A", null=True, blank=True, help_text="What the breaker of the outlets is rated for."
    )
    people = models.PositiveSmallIntegerField("most people", default=0)
    bookable = models.BooleanField(
        "can be booked by itself",
        default=True,
        help_text="Not for what rooms share: a machine room, a booth between two rooms, a set of tie lines.",
    )
    quiet_from = models.TimeField("no loud work from", null=True, blank=True)
    quiet_until = models.TimeField(
        "until", null=True, blank=True, help_text="The next day's hour, where it is the earlier one."
    )
    order = models.PositiveSmallIntegerField(default=0)

    objects: ClassVar[models.Manager[Room]] = TellingManager()

    class Meta:
        ordering = ["site_id", "order", "name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="studio_room_name_in_site"),
            models.CheckConstraint(
                condition=Q(quiet_from__isnull=True, quiet_until__isnull=True)
                | Q(quiet_from__isnull=False, quiet_until__isnull=False),
                name="studio_room_quiet_hours_whole",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def with_parts(self) -> list[Room]:
        """This room and everything it is made of, itself first."""
        found = {self.pk: self}
        open_rooms: Iterable[Room] = [self]
        while open_rooms:
            parts = Room.objects.filter(wholes__in=open_rooms).exclude(pk__in=found).distinct()
            open_rooms = list(parts)
            found.update({room.pk: room for room in open_rooms})
        return list(found.values())


class RoomPair(models.Model):
    """What joins two rooms of a site: tie lines between them, sight, a cue feed; and whether sound carries."""

    first = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="pairs_first")
    second = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="pairs_second")
    tie_lines = models.PositiveSmallIntegerField("tie lines", default=0)
    sight = models.BooleanField("they see each other", default=False)
    cue_feed = models.BooleanField("a cue feed joins them", default=False)
    sound_carries = models.BooleanField("loud work in one is heard in the other", default=False)
    remark = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["first", "second"]
        constraints = [
            models.UniqueConstraint(fields=["first", "second"], name="studio_room_pair_once"),
            models.CheckConstraint(condition=Q(first__lt=F("second")), name="studio_room_pair_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.first} and {self.second}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.first_id > self.second_id:
            self.first, self.second = self.second, self.first
        super().save(*args, **kwargs)

    @property
    def words(self) -> str:
        """Like “12 tie lines, no sight, a cue feed”."""
        said = [f"{self.tie_lines} tie lines" if self.tie_lines else "no tie lines"]
        said.append("sight" if self.sight else "no sight")
        said.append("a cue feed" if self.cue_feed else "no cue feed")
        said += ["sound carries"] if self.sound_carries else []
        return ", ".join(said)
