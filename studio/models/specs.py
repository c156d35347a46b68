"""What models are specified as, one table a family; a figure that isn't known is empty.

Voltages are RMS volts of the mains, levels dBu or dB SPL, impedances ohm, lengths m, weights kg or g.
"""

from __future__ import annotations

from django.db import models

from studio.models.gear import A_ROW_OF_FIGURES, GearModel, Stock


def figures(text: str) -> list[float]:
    """The figures of a field such as “300 1200”, in the order in which they were written."""
    return [float(part) for part in text.split()]


class DynamicsSpec(models.Model):
    """Compressors and limiters. Times run from the slowest step to the fastest; empty where there is no such knob."""

    class Threshold(models.TextChoices):
        VARIABLE = "variable", "variable threshold"
        FIXED = "fixed", "fixed threshold"

    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="dynamics"
    )
    ratios = models.CharField(
        max_length=80,
        blank=True,
        validators=[A_ROW_OF_FIGURES],
        help_text="To one, with a space between: 2 4 8 20.",
    )
    threshold = models.CharField(max_length=8, choices=Threshold, blank=True)
    attack_ms = models.CharField(
        "attack can be set to, ms",
        max_length=80,
        blank=True,
        validators=[A_ROW_OF_FIGURES],
        help_text="Its steps, or its ends where it is set freely: 0.8 0.02.",
    )
    release_ms = models.CharField(
        "release can be set to, ms",
        max_length=80,
        blank=True,
        validators=[A_ROW_OF_FIGURES],
        help_text="Its steps, or its ends where it is set freely: 1100 50.",
    )
    automatic = models.BooleanField("has automatic timing", default=False)
    stereo_link = models.BooleanField("its channels can be linked", default=False)

    def __str__(self) -> str:
        return f"{self.gear_model}: {self.get_threshold_display() or 'dynamics'}"


class EqualiserSpec(models.Model):
    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="equaliser"
    )
    bands = models.PositiveSmallIntegerField(null=True, blank=True)
    stereo_link = models.BooleanField("its channels are set together", default=False)

    def __str__(self) -> str:
        return f"{self.gear_model}: equaliser"


class ListeningSpec(models.Model):
    """Headphones, headphone amplifiers and monitors."""

    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="listening"
    )
    impedance_ohm = models.FloatField("impedance, of an amplifier its output's", null=True, blank=True)
    least_load_ohm = models.FloatField("least load that an amplifier drives", null=True, blank=True)
    sensitivity_db_mw = models.FloatField("dB SPL at 1 mW", null=True, blank=True)
    closed = models.BooleanField("closed: little sound gets out", default=True)

    def __str__(self) -> str:
        return f"{self.gear_model}: {self.impedance_ohm or '?'} ohm"


class ConverterSpec(models.Model):
    """Converters and recorders."""

    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="converter"
    )
    full_scale_dbu = models.FloatField("full scale at this analogue level, dBu", null=True, blank=True)
    rates_khz = models.CharField(
        max_length=80, blank=True, validators=[A_ROW_OF_FIGURES], help_text="Like 44.1 48 96."
    )

    def __str__(self) -> str:
        return f"{self.gear_model}: converter"


class MainsSpec(models.Model):
    """What draws mains or is heavy: instruments, amplifiers, valve gear. A caution, never a permission."""

    gear_model = models.OneToOneField(
        GearModel, on_delete=models.CASCADE, primary_key=True, related_name="mains"
    )
    mains_v = models.PositiveSmallIntegerField(null=True, blank=True)
    power_w = models.FloatField(null=True, blank=True)
    weight_kg = models.FloatField(null=True, blank=True)
    valves = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"{self.gear_model}: {self.power_w or '?'} W"


class StandSpec(models.Model):
    """Of a counted kind of stand."""

    stock = models.OneToOneField(Stock, on_delete=models.CASCADE, primary_key=True, related_name="stand")
    load_kg = models.FloatField("most load", null=True, blank=True)
    reach_m = models.FloatField("reach of its boom", null=True, blank=True)
    height_m = models.FloatField("most height", null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.stock}: {self.load_kg or '?'} kg"


class CableSpec(models.Model):
    """Of a counted kind of cable."""

    stock = models.OneToOneField(Stock, on_delete=models.CASCADE, primary_key=True, related_name="cable")
    ends = models.CharField("connectors", max_length=60, blank=True)
    length_m = models.FloatField(null=True, blank=True)
    capacitance_pf_m = models.FloatField("capacitance, pF a metre", null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.stock}: {self.length_m or '?'} m"
