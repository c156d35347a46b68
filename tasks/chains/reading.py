"""From a planned input to the stations of its signal chain, in words."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import QuerySet

from bookings.models import Session
from studio.models import GearModel, GearUnit
from studio.models.gear import Phantom
from studio.models.specs import figures
from tasks.catalogue import load_catalogue
from tasks.catalogue.chains import IMPEDANCE, TRANSFORMER
from tasks.chains.picture import Picture, Station, picture
from tasks.models import PlannedInput, PlannedInsert

OWN_SUPPLY = "its own supply: on and warm before use"


def inputs_with_chains(session: Session) -> QuerySet[PlannedInput]:
    """The session's inputs with all that a picture shows. A constant number of queries."""
    specs = ("microphone", "direct_box")
    joins = [f"unit__gear_model__{spec}" for spec in specs]
    rows = PlannedInput.objects.filter(plan__session=session).order_by("number", "pk")
    rows = rows.select_related(*joins, "preamp_channel__unit__gear_model__preamp")
    return rows.prefetch_related("inserts__unit__gear_model__mains", "inserts__channel__unit")


def picture_of(row: PlannedInput) -> Picture:
    return picture(f"Signal chain of input {row.number}, {row.label}", list(stations(row)))


def stations(row: PlannedInput) -> Iterator[Station]:
    yield _source(row)
    if row.unit:
        yield _pickup(row, row.unit)
    yield Station("Line", f"Line {row.line}", (_cable(row),))
    if row.preamp_channel:
        yield _preamp(row)
    for insert in row.inserts.all():
        yield _insert(insert)
    yield Station("Recorder", f"Input {row.recorder_input}")


def _source(row: PlannedInput) -> Station:
    source = load_catalogue().by_name.get(row.source)
    lines = []
    if source and row.pickup == PlannedInput.Pickup.MIC:
        lines += [source.position] if source.position else []
        if source.distance_cm:
            near, far = source.distance_cm
            lines.append(f"{near:g} to {far:g} cm" if near != far else f"{near:g} cm")
    return Station("Source", row.label, tuple(lines))


def _pickup(row: PlannedInput, unit: GearUnit) -> Station:
    model = unit.gear_model
    microphone = model.kind == GearModel.Kind.MICROPHONE
    spec = getattr(model, "microphone" if microphone else "direct_box", None)
    phantom = unit.phantom or getattr(spec, "phantom", "")
    lines = [str(model)]
    if phantom:
        lines.append(f"{Phantom(phantom).label}: {'phantom on' if row.phantom else 'phantom off'}")
    if getattr(spec, "own_supply", False):
        lines.append(OWN_SUPPLY)
    if getattr(spec, "pad_db", 0):
        lines.append(f"pad {'in' if row.pad else 'out'}")
    if row.stand and row.stand != "none":
        lines.append(f"stand: {row.stand}")
    which = f", its input {row.unit_input}" if row.unit_input and row.unit_input > 1 else ""
    return Station("Microphone" if microphone else "DI box", f"{unit.tag}{which}", tuple(lines))


def _cable(row: PlannedInput) -> str:
    if row.pickup == PlannedInput.Pickup.LINE:
        return "line cable"
    if row.pickup == PlannedInput.Pickup.DI:
        return "instrument lead to the box, microphone cable from it"
    return "microphone cable"


def _preamp(row: PlannedInput) -> Station:
    channel = row.preamp_channel
    assert channel is not None  # noqa: S101 - for the type checker; the caller has looked
    spec = getattr(channel.unit.gear_model, "preamp", None)
    lines = [] if row.gain_db is None else [f"gain {row.gain_db:g} dB to begin with"]
    lines.append("phantom on" if row.phantom else "phantom off")
    if row.high_pass_hz:
        lines.append(f"high-pass {row.high_pass_hz:g} Hz")
    if spec:
        lines += _of_preamp(figures(spec.input_ohms), spec.transformer, spec.output_level)
    return Station("Preamp", str(channel), tuple(lines))


def _of_preamp(ohms: list[float], transformer: bool, output_level: bool) -> Iterator[str]:
    said = load_catalogue().chains.of_preamp
    if len(ohms) > 1:
        others = " or ".join(f"{ohm:g}" for ohm in ohms[1:])
        yield f"input {ohms[0]:g} ohm; {others} can be switched"
        yield from filter(None, [said.get(IMPEDANCE)])
    if transformer and output_level:
        yield from filter(None, [said.get(TRANSFORMER)])


def _insert(insert: PlannedInsert) -> Station:
    if insert.unit is None:
        return Station(f"Insert {insert.place}: still open", insert.name, tuple(insert.why[:1]), is_open=True)
    kind = insert.unit.gear_model.get_kind_display()
    valves = getattr(getattr(insert.unit.gear_model, "mains", None), "valves", False)
    lines = [f"{what.lower()}: {to}" for what, to in insert.settings]
    lines += ["valves: hot, warm up first, never open it"] if valves else []
    return Station(
        f"Insert {insert.place}: {kind}",
        str(insert.channel or insert.unit),
        (*lines, *([insert.says] * bool(insert.says))),
    )
