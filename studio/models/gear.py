"""Gear: models carry specs, units carry tags, multi-channel units carry channels, and stock is counted."""

from __future__ import annotations

from typing import Any

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone

from studio.models.claims import Claimable, Resource
from studio.models.places import Room, Site

A_CURRENCY = RegexValidator(r"\A[A-Z]{3}\Z", "Write the currency as three capital letters, like EUR.")
A_ROW_OF_FIGURES = RegexValidator(
    r"\A\d+(\.\d+)?( \d+(\.\d+)?)*\Z", "Write figures with a space between, like 300 1200."
)
A_DATE = RegexValidator(r"\A\d{4}(-\d\d(-\d\d)?)?\Z", "Write it like 2021-04-03, 2021-04 or 2021.")


class Phantom(models.TextChoices):
    """What a unit says about phantom power; unknown is treated as must not."""

    NEEDS = "needs", "needs phantom"
    MUST_NOT = "must_not", "must not have phantom"
    INDIFFERENT = "indifferent", "does not mind phantom"
    UNKNOWN = "unknown", "phantom not known: treat as must not"


class GearModel(models.Model):
    """What all units of one make share. channels is 0 for a thing that has none."""

    class Kind(models.TextChoices):
        MICROPHONE = "microphone", "microphone"
        PREAMP = "preamp", "preamp"
        DI = "di", "DI box"
        EQUALISER = "equaliser", "equaliser"
        COMPRESSOR = "compressor", "compressor"
        LIMITER = "limiter", "limiter"
        CONVERTER = "converter", "converter"
        MONITOR = "monitor", "monitor"
        HEADPHONE_AMP = "headphone_amp", "headphone amplifier"
        HEADPHONES = "headphones", "headphones"
        INSTRUMENT = "instrument", "instrument"
        AMPLIFIER = "amplifier", "amplifier"
        RECORDER = "recorder", "recorder"
        ADAPTOR = "adaptor", "adaptor"
        EFFECT = "effect", "effect"
        STAND = "stand", "stand"
        CABLE = "cable", "cable"
        CONSUMABLE = "consumable", "consumable"
        OTHER = "other", "something else"

    maker = models.CharField(max_length=80, blank=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=14, choices=Kind)
    channels = models.PositiveSmallIntegerField(default=0)
    remark = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["kind", "maker", "name"]
        constraints = [models.UniqueConstraint(fields=["maker", "name"], name="studio_gear_model_once")]

    def __str__(self) -> str:
        return f"{self.maker} {self.name}".strip()


class MicrophoneSpec(models.Model):
    """Figures the planner needs of a microphone; a figure that isn't known is empty."""

    class Transducer(models.TextChoices):
        MOVING_COIL = "moving-coil", "moving-coil"
        LARGE_MOVING_COIL = "large moving-coil", "large moving-coil"
        SMALL_CONDENSER = "small condenser", "small condenser"
        LARGE_CONDENSER = "large condenser", "large condenser"
        RIBBON = "ribbon", "ribbon"
        BOUNDARY = "boundary", "boundary"
        CLIP_CONDENSER = "clip condenser", "clip condenser"

    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="microphone"
    )
    transducer = models.CharField(max_length=20, choices=Transducer)
    patterns = models.CharField(max_length=80, default="cardioid")
    phantom = models.CharField(max_length=12, choices=Phantom, default=Phantom.UNKNOWN)
    own_supply = models.BooleanField(default=False)
    current_ma = models.FloatField(null=True, blank=True)
    sensitivity_mv_pa = models.FloatField(null=True, blank=True)
    max_spl_db = models.FloatField(null=True, blank=True)
    pad_db = models.FloatField(default=0)
    weight_g = models.PositiveIntegerField(null=True, blank=True)
    self_noise_dba = models.FloatField(null=True, blank=True)
    output_ohm = models.FloatField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.gear_model}: {self.transducer}"


class DirectBoxSpec(models.Model):
    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="direct_box"
    )
    active = models.BooleanField()
    battery = models.BooleanField("works from a battery too", default=False)
    phantom = models.CharField(max_length=12, choices=Phantom, default=Phantom.UNKNOWN)
    current_ma = models.FloatField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.gear_model}: {'active' if self.active else 'passive'} DI"


class PreampSpec(models.Model):
    """drain_seconds: how long the voltage takes to fall after the switch goes off."""

    class Switching(models.TextChoices):
        PER_CHANNEL = "per_channel", "one switch a channel"
        PER_BANK = "per_bank", "one switch a bank"
        WHOLE_UNIT = "whole_unit", "one switch for the whole unit"
        ALWAYS_ON = "always_on", "always on"
        NONE = "none", "no phantom"

    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="preamp"
    )
    switching = models.CharField(max_length=12, choices=Switching)
    bank_size = models.PositiveSmallIntegerField(default=1)
    drain_seconds = models.PositiveSmallIntegerField(default=60)
    gain_min_db = models.FloatField(null=True, blank=True)
    gain_max_db = models.FloatField(null=True, blank=True)
    phantom_supply_ma = models.FloatField(null=True, blank=True)
    pad_db = models.FloatField(default=0)
    gain_step_db = models.FloatField("gain is set in steps of, dB", null=True, blank=True)
    input_ohms = models.CharField(
        "input impedances that can be switched, ohm",
        max_length=60,
        blank=True,
        validators=[A_ROW_OF_FIGURES],
        help_text="With a space between, the usual one first: 1200 300.",
    )
    high_pass_hz = models.CharField(
        "high-pass corners, Hz",
        max_length=60,
        blank=True,
        validators=[A_ROW_OF_FIGURES],
        help_text="With a space between: 45 70.",
    )
    polarity = models.BooleanField("has a polarity switch", default=False)
    transformer = models.BooleanField("has a transformer that may be driven", default=False)
    output_level = models.BooleanField("its output can be turned down", default=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(bank_size__gte=1), name="studio_preamp_bank_holds_a_channel")
        ]

    def __str__(self) -> str:
        return f"{self.gear_model}: phantom {self.get_switching_display()}"


class GearUnit(Claimable):
    """One thing with a tag. home_room is None for a floater; phantom overrides the model's when set.

    site is where it counts now. home_site is of a floater that stands at another site than it belongs to.
    owner and currency are empty for the house's own. matched says which units it makes a pair with, by a word
    that they share. bought is as exact as is known: a day, a month or a year.
    retired_at is kept by `save`: when it was retired, empty while it is in use.
    """

    resource_kind = Resource.Kind.UNIT

    gear_model = models.ForeignKey(GearModel, on_delete=models.PROTECT, related_name="units")
    tag = models.CharField(max_length=40)
    serial = models.CharField(max_length=60, blank=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="units")
    home_room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="units", null=True, blank=True)
    home_site = models.ForeignKey(
        Site, on_delete=models.PROTECT, related_name="+", null=True, editable=False, verbose_name="belongs to"
    )
    storage = models.CharField("storage place", max_length=120, blank=True)
    phantom = models.CharField(max_length=12, choices=Phantom, blank=True)
    value = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, validators=[A_CURRENCY])
    owner = models.CharField(max_length=80, blank=True)
    bought = models.CharField(max_length=10, blank=True, validators=[A_DATE])
    matched = models.CharField("matched with, a word that they share", max_length=40, blank=True)
    retired = models.BooleanField(default=False)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)
    remark = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["tag"]
        constraints = [models.UniqueConstraint(Lower("tag"), name="studio_unit_tag_once")]

    def __str__(self) -> str:
        return self.tag

    def resource_name(self) -> str:
        return self.tag

    def save(self, *args: Any, **kwargs: Any) -> None:
        new = self.pk is None
        self.retired_at = (self.retired_at or timezone.now()) if self.retired else None
        if "retired" in (kwargs.get("update_fields") or ()):
            kwargs["update_fields"] = [*kwargs["update_fields"], "retired_at"]
        super().save(*args, **kwargs)
        if new:
            self._make_channels()

    def _make_channels(self) -> None:
        """In two questions to the database, however many there are."""
        channels = [Channel(unit=self, number=number) for number in range(1, self.gear_model.channels + 1)]
        made = Resource.objects.bulk_create(Resource(**channel.resource_fields()) for channel in channels)
        for channel, resource in zip(channels, made, strict=True):
            channel.resource = resource
        Channel.objects.bulk_create(channels)

    @property
    def where(self) -> str:
        """Where it lives, in words."""
        place = self.home_room.name if self.home_room else (self.home_site or self.site).name
        return f"{place}, {self.storage}" if self.storage else place


class Channel(Claimable):
    resource_kind = Resource.Kind.CHANNEL

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="channels")
    number = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["unit", "number"]
        constraints = [models.UniqueConstraint(fields=["unit", "number"], name="studio_channel_number_once")]

    def __str__(self) -> str:
        return f"{self.unit.tag} channel {self.number}"


class Stock(Claimable):
    """Things that are counted, not tagged: short booms, 10 m cables."""

    resource_kind = Resource.Kind.STOCK

    class Kind(models.TextChoices):
        STAND = "stand", "stand"
        CABLE = "cable", "cable"
        OTHER = "other", "other"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="stock")
    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=80)
    count = models.PositiveIntegerField()
    storage = models.CharField("storage place", max_length=120, blank=True)
    remark = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["site", "kind", "name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="studio_stock_name_in_site")]

    def __str__(self) -> str:
        return self.name

    def resource_fields(self) -> dict[str, Any]:
        return super().resource_fields() | {"exclusive": False, "capacity": self.count}
