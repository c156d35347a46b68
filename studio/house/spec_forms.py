"""Forms for the figures of gear models and counted stock: which tables of figures a kind has, and their fields."""

from __future__ import annotations

import re
from typing import Any, Generic

from django import forms
from django.core.validators import MinValueValidator
from django.db.models import Model

from studio.house.base_form import HouseForm, Thing
from studio.models import (
    CableSpec,
    ConverterSpec,
    DirectBoxSpec,
    DynamicsSpec,
    EqualiserSpec,
    GearModel,
    ListeningSpec,
    MainsSpec,
    MicrophoneSpec,
    PreampSpec,
    StandSpec,
    Stock,
)
from studio.models.gear import A_ROW_OF_FIGURES

BELOW_ZERO = {"gain_min_db", "gain_max_db", "full_scale_dbu"}
ROWS_OF_FIGURES = {"ratios", "rates_khz", "input_ohms", "high_pass_hz", "attack_ms", "release_ms"}
SEPARATORS = re.compile(r"(?:\s*:\s*1\b)?(?:\s*[;/]\s*|,\s+|\s+|$)")


def row_of_figures(text: str) -> str:
    """“2:1, 4:1” and “2 / 4” are “2 4”; a comma without a space stays, since it may be a decimal one."""
    return SEPARATORS.sub(" ", text.strip()).strip()


class FiguresField(forms.CharField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=60, validators=[A_ROW_OF_FIGURES], **kwargs)

    def to_python(self, value: Any) -> str:
        return row_of_figures(super().to_python(value) or "")


class SpecForm(HouseForm[Thing], Generic[Thing]):
    """Figures of a model or of stock. What nobody filled in is not stored."""

    heading = "Figures"
    always = False
    """The planner wants a row of this table, whatever stands in it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if isinstance(field, forms.FloatField) and name not in BELOW_ZERO:
                field.validators.append(MinValueValidator(0, "This can't be below zero."))
                field.widget.attrs["min"] = 0
            if name in ROWS_OF_FIGURES:
                self.fields[name] = FiguresField(required=False, label=field.label, help_text=field.help_text)

        fresh = self._meta.model()
        self.usual = {
            name: getattr(fresh, name)
            for name, field in self.fields.items()
            if isinstance(field, forms.IntegerField) and field.required
        }
        for name in self.usual:
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        """A figure that can't be empty and was left so is the usual one."""
        cleaned = super().clean() or self.cleaned_data
        for name, usual in self.usual.items():
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = usual
        return cleaned

    @property
    def says_something(self) -> bool:
        return self.always or bool(self.instance.pk) or self.has_changed()


class MicrophoneSpecForm(SpecForm[MicrophoneSpec]):
    heading = "Figures for the planner"
    always = True

    class Meta:
        model = MicrophoneSpec
        fields = [
            "transducer",
            "patterns",
            "phantom",
            "own_supply",
            "current_ma",
            "sensitivity_mv_pa",
            "max_spl_db",
            "pad_db",
            "self_noise_dba",
            "output_ohm",
            "weight_g",
        ]
        labels = {
            "own_supply": "Has a supply of its own",
            "current_ma": "Phantom current, mA",
            "sensitivity_mv_pa": "Sensitivity, mV/Pa",
            "max_spl_db": "Highest level without pad, dB SPL",
            "pad_db": "Pad, dB",
            "self_noise_dba": "Self-noise, dB(A)",
            "output_ohm": "Output impedance, ohm",
            "weight_g": "Weight, g",
        }
        help_texts = {"patterns": "With commas: cardioid, omni.", "pad_db": "0 without one."}


class DirectBoxSpecForm(SpecForm[DirectBoxSpec]):
    heading = "Figures for the planner"
    always = True

    class Meta:
        model = DirectBoxSpec
        fields = ["active", "battery", "phantom", "current_ma"]
        labels = {"current_ma": "Phantom current, mA"}


class PreampSpecForm(SpecForm[PreampSpec]):
    heading = "Figures for the planner"
    always = True

    class Meta:
        model = PreampSpec
        fields = [
            "switching",
            "bank_size",
            "drain_seconds",
            "gain_min_db",
            "gain_max_db",
            "gain_step_db",
            "phantom_supply_ma",
            "pad_db",
            "input_ohms",
            "high_pass_hz",
            "polarity",
            "transformer",
            "output_level",
        ]
        labels = {
            "switching": "Phantom switch",
            "bank_size": "Channels a bank",
            "gain_min_db": "Least gain, dB",
            "gain_max_db": "Most gain, dB",
            "gain_step_db": "Gain is set in steps of, dB",
            "phantom_supply_ma": "Phantom supply in all, mA",
            "drain_seconds": "Seconds until phantom has drained",
            "pad_db": "Pad, dB",
        }
        help_texts = {"gain_step_db": "Empty where it is set freely.", "pad_db": "0 without one."}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        least, most = cleaned.get("gain_min_db"), cleaned.get("gain_max_db")
        if least is not None and most is not None and least > most:
            self.add_error("gain_max_db", f"Less than the least gain, {least:g} dB: exchange the two.")
        if cleaned.get("bank_size") == 0:
            self.add_error("bank_size", "A bank holds at least 1 channel.")
        return cleaned


class DynamicsSpecForm(SpecForm[DynamicsSpec]):
    class Meta:
        model = DynamicsSpec
        fields = ["ratios", "threshold", "attack_ms", "release_ms", "automatic", "stereo_link"]


class EqualiserSpecForm(SpecForm[EqualiserSpec]):
    class Meta:
        model = EqualiserSpec
        fields = ["bands", "stereo_link"]
        labels = {"bands": "Bands a channel"}


class ListeningSpecForm(SpecForm[ListeningSpec]):
    class Meta:
        model = ListeningSpec
        fields = ["impedance_ohm", "least_load_ohm", "sensitivity_db_mw", "closed"]
        labels = {
            "impedance_ohm": "Impedance, of an amplifier its output's, ohm",
            "least_load_ohm": "Least load that an amplifier drives, ohm",
            "sensitivity_db_mw": "Sensitivity, dB SPL at 1 mW",
        }


class ConverterSpecForm(SpecForm[ConverterSpec]):
    class Meta:
        model = ConverterSpec
        fields = ["full_scale_dbu", "rates_khz"]
        labels = {"rates_khz": "Sample rates, kHz"}


class MainsSpecForm(SpecForm[MainsSpec]):
    heading = "Mains and weight"

    class Meta:
        model = MainsSpec
        fields = ["mains_v", "power_w", "weight_kg", "valves"]
        labels = {
            "mains_v": "Mains, V",
            "power_w": "Power, W",
            "weight_kg": "Weight, kg",
            "valves": "Has valves",
        }
        help_texts = {
            "mains_v": "Valve and mains gear is opened by a competent person only; local rules come first.",
            "weight_kg": "Above what one person may lift by local rules, plan for two or a trolley.",
        }


class StandSpecForm(SpecForm[StandSpec]):
    class Meta:
        model = StandSpec
        fields = ["load_kg", "reach_m", "height_m"]
        labels = {"load_kg": "Most load, kg", "reach_m": "Reach of its boom, m", "height_m": "Most height, m"}


class CableSpecForm(SpecForm[CableSpec]):
    class Meta:
        model = CableSpec
        fields = ["ends", "length_m", "capacitance_pf_m"]
        labels = {"length_m": "Length, m", "capacitance_pf_m": "Capacitance, pF a metre"}


Form = type[SpecForm[Any]]
Kind = GearModel.Kind
MAINS: tuple[str, Form] = ("mains", MainsSpecForm)
OF_MODEL: dict[str, list[tuple[str, Form]]] = {
    Kind.MICROPHONE: [("microphone", MicrophoneSpecForm), MAINS],
    Kind.DI: [("direct_box", DirectBoxSpecForm)],
    Kind.PREAMP: [("preamp", PreampSpecForm), MAINS],
    Kind.EQUALISER: [("equaliser", EqualiserSpecForm), MAINS],
    Kind.COMPRESSOR: [("dynamics", DynamicsSpecForm), MAINS],
    Kind.LIMITER: [("dynamics", DynamicsSpecForm), MAINS],
    Kind.CONVERTER: [("converter", ConverterSpecForm), MAINS],
    Kind.RECORDER: [("converter", ConverterSpecForm), MAINS],
    Kind.MONITOR: [("listening", ListeningSpecForm), MAINS],
    Kind.HEADPHONE_AMP: [("listening", ListeningSpecForm), MAINS],
    Kind.HEADPHONES: [("listening", ListeningSpecForm)],
    Kind.INSTRUMENT: [MAINS],
    Kind.AMPLIFIER: [MAINS],
    Kind.EFFECT: [MAINS],
    Kind.OTHER: [MAINS],
}
"""The tables of figures of a kind, by the name under which a GearModel has them."""

OF_STOCK: dict[str, list[tuple[str, Form]]] = {
    Stock.Kind.STAND: [("stand", StandSpecForm)],
    Stock.Kind.CABLE: [("cable", CableSpecForm)],
}


def spec_forms(instance: Model | None, data: Any) -> list[SpecForm[Any]]:
    """The forms of the figures that this model or stock can have; none for anything else.

    The first one's fields begin with “spec-”, a second one's with its name.
    """
    named: list[tuple[str, Form]] = []
    if isinstance(instance, GearModel):
        named = OF_MODEL.get(instance.kind, [])
    elif isinstance(instance, Stock):
        named = OF_STOCK.get(instance.kind, [])
    return [
        form(data, instance=getattr(instance, name, None), prefix=name if number else "spec")
        for number, (name, form) in enumerate(named)
    ]


def save_specs(thing: Model, specs: list[SpecForm[Any]]) -> None:
    for spec in specs:
        if spec.says_something:
            spec.instance.pk = thing.pk
            spec.save()
