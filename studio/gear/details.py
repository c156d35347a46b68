"""What there is to know of a unit, as names and values."""

from __future__ import annotations

from studio.models import GearUnit, MicrophoneSpec, Phantom, PreampSpec

Fact = tuple[str, str]


def phantom_of(unit: GearUnit) -> str:
    """The unit's own word on phantom, else its model's; empty where the question makes no sense."""
    if unit.phantom:
        return unit.phantom
    for name in ("microphone", "direct_box"):
        if hasattr(unit.gear_model, name):
            return str(getattr(unit.gear_model, name).phantom)
    return ""


def details(unit: GearUnit) -> list[Fact]:
    model = unit.gear_model
    phantom = phantom_of(unit)
    facts = [
        ("Kind", model.get_kind_display()),
        ("Model", str(model)),
        ("Serial", unit.serial),
        ("Lives in", unit.where),
        ("Site", unit.site.name),
        ("Phantom", str(Phantom(phantom).label) if phantom else ""),
    ]
    if hasattr(model, "microphone"):
        facts += _microphone(model.microphone)
    if hasattr(model, "preamp"):
        facts += _preamp(model.preamp)
    return [fact for fact in [*facts, ("Remark", unit.remark or model.remark)] if fact[1]]


def _microphone(spec: MicrophoneSpec) -> list[Fact]:
    return [
        ("Transducer", str(spec.get_transducer_display())),
        ("Patterns", spec.patterns),
        ("Supply", "its own" if spec.own_supply else ""),
        ("Draws", f"{spec.current_ma:g} mA" if spec.current_ma else ""),
        ("Sensitivity", f"{spec.sensitivity_mv_pa:g} mV/Pa" if spec.sensitivity_mv_pa else ""),
        ("Loudest", f"{spec.max_spl_db:g} dB SPL" if spec.max_spl_db else ""),
        ("Pad", f"{spec.pad_db:g} dB" if spec.pad_db else ""),
        ("Weight", f"{spec.weight_g} g" if spec.weight_g else ""),
    ]


def _preamp(spec: PreampSpec) -> list[Fact]:
    phantom = str(spec.get_switching_display())
    if spec.switching == PreampSpec.Switching.PER_BANK:
        phantom += f" of {spec.bank_size}"
    drains = spec.switching not in {PreampSpec.Switching.NONE, PreampSpec.Switching.ALWAYS_ON}
    return [
        ("Phantom switch", phantom),
        ("Drains in", f"{spec.drain_seconds} s after it is off" if drains else ""),
        ("Gain", f"{spec.gain_min_db:g} to {spec.gain_max_db:g} dB"),
        ("Supply", f"{spec.phantom_supply_ma:g} mA" if spec.phantom_supply_ma else ""),
    ]
