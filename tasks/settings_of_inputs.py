"""What an assistant can set on an input: the gain to begin with and the high-pass corner."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings

from studio.models import GearModel, GearUnit
from studio.models.specs import figures
from tasks.catalogue import load_catalogue
from tasks.gains import Gain, Input, nearest_corner, starting_gain
from tasks.planning import snapshot as records


@dataclass(frozen=True, slots=True)
class Settings:
    """gain is None where a figure is missing."""

    gain: Gain | None = None
    high_pass_hz: float = 0


def settings_of(each: records.PlannedInput, unit: GearUnit | None, rack: GearUnit | None) -> Settings:
    """For a microphone on a preamp; everything else is set by ear."""
    source = load_catalogue().by_name.get(each.source)
    if source is None or unit is None or rack is None or each.pickup is not records.Pickup.MIC:
        return Settings()
    if unit.gear_model.kind != GearModel.Kind.MICROPHONE:
        return Settings()
    microphone, preamp = unit.gear_model.microphone, rack.gear_model.preamp
    loads = figures(preamp.input_ohms)
    given = Input(
        peak_spl_db=source.peak_spl_db,
        sensitivity_mv_pa=microphone.sensitivity_mv_pa,
        pad_db=microphone.pad_db if each.pad else 0,
        source_ohm=microphone.output_ohm,
        load_ohm=loads[0] if loads else None,
        least_gain_db=preamp.gain_min_db or 0,
        most_gain_db=float("inf") if preamp.gain_max_db is None else preamp.gain_max_db,
        step_db=preamp.gain_step_db,
        preamp_pad_db=preamp.pad_db,
    )
    gain = starting_gain(given, settings.FULL_SCALE_DBU, settings.PEAK_MARGIN_DB)
    return Settings(gain, nearest_corner(source.high_pass_hz, sorted(figures(preamp.high_pass_hz))))
