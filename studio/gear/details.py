"""What there is to know of a unit or of counted stock, as names and values."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from studio.models import GearModel, GearUnit, Phantom, PreampSpec

Fact = tuple[str, str]
Figure = tuple[str, str, str]
"""Name, attribute, and what stands behind the value; of what is there or not, the words for it."""

FIGURES: dict[str, list[Figure]] = {
    "microphone": [
        ("Transducer", "transducer", ""),
        ("Patterns", "patterns", ""),
        ("Supply", "own_supply", "its own"),
        ("Draws", "current_ma", " mA"),
        ("Sensitivity", "sensitivity_mv_pa", " mV/Pa"),
        ("Loudest", "max_spl_db", " dB SPL"),
        ("Pad", "pad_db", " dB"),
        ("Self-noise", "self_noise_dba", " dB(A)"),
        ("Output", "output_ohm", " ohm"),
        ("Weight", "weight_g", " g"),
    ],
    "direct_box": [
        ("Battery", "battery", "works from one too"),
        ("Draws", "current_ma", " mA"),
    ],
    "preamp": [
        ("Steps of gain", "gain_step_db", " dB"),
        ("Supply", "phantom_supply_ma", " mA"),
        ("Pad", "pad_db", " dB"),
        ("Input impedance", "input_ohms", " ohm"),
        ("High-pass", "high_pass_hz", " Hz"),
        ("Polarity", "polarity", "can be switched"),
        ("Transformer", "transformer", "may be driven"),
        ("Output", "output_level", "can be turned down"),
    ],
    "dynamics": [
        ("Ratios", "ratios", " to 1"),
        ("Threshold", "threshold", ""),
        ("Attack", "attack_ms", " ms"),
        ("Release", "release_ms", " ms"),
        ("Timing", "automatic", "can be automatic"),
        ("Stereo", "stereo_link", "its channels can be linked"),
    ],
    "equaliser": [
        ("Bands", "bands", " a channel"),
        ("Stereo", "stereo_link", "its channels are set together"),
    ],
    "listening": [
        ("Impedance", "impedance_ohm", " ohm"),
        ("Least load", "least_load_ohm", " ohm"),
        ("Loudness", "sensitivity_db_mw", " dB SPL at 1 mW"),
    ],
    "converter": [("Full scale", "full_scale_dbu", " dBu"), ("Rates", "rates_khz", " kHz")],
    "mains": [
        ("Mains", "mains_v", " V"),
        ("Power", "power_w", " W"),
        ("Weight", "weight_kg", " kg"),
        ("Valves", "valves", "yes: hot, and for a competent person to open"),
    ],
    "stand": [
        ("Most load", "load_kg", " kg"),
        ("Reach", "reach_m", " m"),
        ("Most height", "height_m", " m"),
    ],
    "cable": [
        ("Connectors", "ends", ""),
        ("Length", "length_m", " m"),
        ("Capacitance", "capacitance_pf_m", " pF a metre"),
    ],
}
OF_MODEL = ("microphone", "direct_box", "preamp", "dynamics", "equaliser", "listening", "converter", "mains")


def phantom_of(unit: GearUnit) -> str:
    """The unit's own word on phantom, else its model's; empty where the question makes no sense."""
    if unit.phantom:
        return unit.phantom
    for name in ("microphone", "direct_box"):
        if hasattr(unit.gear_model, name):
            return str(getattr(unit.gear_model, name).phantom)
    return ""


def details(unit: GearUnit) -> list[Fact]:
    """In a constant number of queries. What a unit cost and is worth is no business of this page."""
    model = unit.gear_model
    phantom = phantom_of(unit)
    facts = [
        ("Kind", model.get_kind_display()),
        ("Model", str(model)),
        ("Serial", unit.serial),
        ("Lives in", unit.where),
        ("Site", unit.site.name),
        ("Channels", str(model.channels or "")),
        ("Phantom", str(Phantom(phantom).label) if phantom else ""),
        *_preamp(getattr(model, "preamp", None)),
        *_either_or(model),
        *figures_of(model, OF_MODEL),
        ("Matched with", ", ".join(matched(unit))),
        ("Owner", unit.owner),
        ("Bought", unit.bought),
        ("Remark", unit.remark or model.remark),
    ]
    return [fact for fact in facts if fact[1]]


def matched(unit: GearUnit) -> list[str]:
    """Tags of the units that share its word for a pair."""
    if not unit.matched:
        return []
    others = GearUnit.objects.filter(matched=unit.matched, retired=False).exclude(pk=unit.pk)
    return list(others.values_list("tag", flat=True))


def figures_of(thing: Any, tables: Iterable[str]) -> list[Fact]:
    """The figures that are known, from those of these tables that the thing has."""
    return [
        (name, said(getattr(thing, table), attribute, behind))
        for table in tables
        if hasattr(thing, table)
        for name, attribute, behind in FIGURES[table]
    ]


def said(spec: Any, attribute: str, behind: str) -> str:
    """“2.8 mA”; empty for what is not known or not there."""
    value = getattr(spec, attribute)
    if value is None or value == "" or value is False:
        return ""
    if value is True:
        return behind
    if isinstance(value, str):
        label = getattr(spec, f"get_{attribute}_display", lambda: value)()
        return f"{label}{behind}"
    return f"{value:g}{behind}" if value or attribute != "pad_db" else ""


def _either_or(model: GearModel) -> list[Fact]:
    """Where “no” says as much as “yes”."""
    facts = []
    if spec := getattr(model, "direct_box", None):
        facts.append(("Circuit", "active" if spec.active else "passive"))
    if (spec := getattr(model, "listening", None)) and model.kind == GearModel.Kind.HEADPHONES:
        facts.append(("Built", "closed: little sound gets out" if spec.closed else "open: sound gets out"))
    return facts


def _preamp(spec: PreampSpec | None) -> list[Fact]:
    if spec is None:
        return []
    phantom = str(spec.get_switching_display())
    if spec.switching == PreampSpec.Switching.PER_BANK:
        phantom += f" of {spec.bank_size}"
    drains = spec.switching not in {PreampSpec.Switching.NONE, PreampSpec.Switching.ALWAYS_ON}
    return [
        ("Phantom switch", phantom),
        ("Drains in", f"{spec.drain_seconds} s after it is off" if drains else ""),
        ("Gain", _range(spec.gain_min_db, spec.gain_max_db)),
    ]


def _range(least_db: float | None, most_db: float | None) -> str:
    if least_db is not None and most_db is not None:
        return f"{least_db:g} to {most_db:g} dB"
    if most_db is not None:
        return f"{most_db:g} dB at most"
    return f"{least_db:g} dB at least" if least_db is not None else ""
