"""What units a session has, how they are set in it, and how they were last set for its job."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from bookings.models import Session
from studio.clock import say
from studio.models import GearUnit
from tasks.models import PlannedInput, PlannedInsert, UnitSetting
from tasks.recall import befell_since


@dataclass(frozen=True, slots=True)
class Used:
    """One unit of a session with the inputs that it serves."""

    unit: GearUnit
    serves: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Earlier:
    """How a unit was set in an earlier session of the job. warnings: why it may not be as it was.

    stand_in: the unit that does its work now, where it isn't in this session itself; None where nothing does.
    """

    setting: UnitSetting
    serves: tuple[str, ...]
    here: bool
    stand_in: GearUnit | None
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RecallSheet:
    used: tuple[Used, ...]
    noted: dict[int, UnitSetting] = field(default_factory=dict)
    earlier: tuple[Earlier, ...] = ()


def recall_sheet(session: Session) -> RecallSheet:
    """A constant number of queries."""
    used = units_of(session)
    mine = UnitSetting.objects.filter(session=session).select_related("unit__gear_model", "by")
    noted = {row.unit_id: row for row in mine.prefetch_related("photos")}
    return RecallSheet(used, noted, earlier_of(session, used))


def units_of(session: Session) -> tuple[Used, ...]:
    """Microphones, boxes, preamps and inserts of the plan, and what the session wanted by tag, by their tags."""
    serves: dict[GearUnit, list[str]] = {}
    for label, unit in served(session):
        serves.setdefault(unit, []).append(label)
    for unit in session.wanted_units.select_related("gear_model", "site"):
        serves.setdefault(unit, [])
    by_tag = sorted(serves.items(), key=lambda each: each[0].tag)
    return tuple(Used(unit, tuple(dict.fromkeys(labels))) for unit, labels in by_tag)


def served(session: Session) -> list[tuple[str, GearUnit]]:
    """Each input's label with each unit on its way. Two queries."""
    found: list[tuple[str, GearUnit]] = []
    rows = PlannedInput.objects.filter(plan__session=session).select_related(
        "unit__gear_model", "unit__site", "preamp_channel__unit__gear_model", "preamp_channel__unit__site"
    )
    for row in rows:
        rack = row.preamp_channel.unit if row.preamp_channel else None
        found += [(row.label, unit) for unit in (row.unit, rack) if unit]
    inserts = PlannedInsert.objects.filter(input__plan__session=session, unit__isnull=False)
    for insert in inserts.select_related("input", "unit__gear_model", "unit__site"):
        if insert.unit:
            found.append((insert.input.label, insert.unit))
    return found


def earlier_of(session: Session, used: Sequence[Used]) -> tuple[Earlier, ...]:
    """The last that was noted of each unit in an earlier session of the job; nothing of what said nothing."""
    last = _last_noted(session)
    if not last:
        return ()
    befell = befell_since(min(row.session.end for row in last), {row.unit_id for row in last})
    here = {each.unit.pk for each in used}
    then = _labels_then({row.session_id for row in last})
    found = []
    for row in last:
        labels = then.get((row.session_id, row.unit_id), ())
        stand_in = None if row.unit_id in here else _stand_in(row.unit, labels, used)
        warnings = tuple(_warnings(row, befell.get(row.unit_id, []), row.unit_id in here, stand_in))
        found.append(Earlier(row, labels, row.unit_id in here, stand_in, warnings))
    return tuple(found)


def _last_noted(session: Session) -> list[UnitSetting]:
    before = Session.objects.standing().filter(job=session.job_id, end__lte=session.setup_at)
    rows = UnitSetting.objects.filter(session__in=before.exclude(pk=session.pk))
    joined = rows.select_related("unit__gear_model", "unit__site", "session__room__site", "by")
    last: dict[int, UnitSetting] = {}
    for row in joined.prefetch_related("photos").order_by("session__end", "pk"):
        last[row.unit_id] = row
    return sorted(last.values(), key=lambda row: row.unit.tag)


def _labels_then(sessions: Iterable[int]) -> dict[tuple[int, int], tuple[str, ...]]:
    """What each unit served in those sessions. Two queries."""
    inputs = PlannedInput.objects.filter(plan__session__in=sessions)
    found: dict[tuple[int, int], list[str]] = {}
    rows = inputs.values_list("plan__session", "unit", "preamp_channel__unit", "label").order_by(
        "number", "pk"
    )
    for session, unit, rack, label in rows:
        for each in (unit, rack):
            if each:
                found.setdefault((session, each), []).append(label)
    inserts = PlannedInsert.objects.filter(input__plan__session__in=sessions, unit__isnull=False)
    for session, unit, label in inserts.values_list("input__plan__session", "unit", "input__label").order_by(
        "pk"
    ):
        found.setdefault((session, unit), []).append(label)
    return {key: tuple(dict.fromkeys(labels)) for key, labels in found.items()}


def _stand_in(unit: GearUnit, labels: Sequence[str], used: Sequence[Used]) -> GearUnit | None:
    """What of the same kind serves the same input now."""
    for each in used:
        if each.unit.gear_model.kind == unit.gear_model.kind and set(labels) & set(each.serves):
            return each.unit
    return None


def _warnings(
    row: UnitSetting, befell: Iterable[tuple[datetime, str]], here: bool, stand_in: GearUnit | None
) -> Iterable[str]:
    if not here:
        instead = f"{stand_in} does its work: set it by ear" if stand_in else "nothing does its work"
        yield f"{row.unit} is not in this session; {instead}"
    for at, what in sorted(befell):
        if at > row.session.end:
            yield f"{row.unit}: {what}, {say(at, row.unit.site.tz)}"
