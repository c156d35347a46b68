"""Faults: report, doubt, judge, take to the bench, say when it is back, mend, hear. One transaction each.

Each use case leaves an event, so that how things stood at any instant can be replayed; studio.repairs claims what
is out of use.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from studio.access import Act, require
from studio.models import Channel, Fault, FaultEvent, GearUnit, Person
from studio.repairs import hold, keep_overdue_out, settle

__all__ = [
    "FaultRefused",
    "clear_suspect",
    "found",
    "hear",
    "keep_overdue_out",
    "look_at",
    "mend",
    "miss",
    "note",
    "report_fault",
    "see_again",
    "send_away",
    "set_expected_back",
    "set_severity",
    "start_bench",
    "wait_for_parts",
]

Effect, Severity, Step, Kind = Fault.Effect, Fault.Severity, Fault.Step, FaultEvent.Kind
Thing = tuple[GearUnit, Channel | None]

USUAL_SEVERITY = {
    Effect.DEAD: Severity.OUT,
    Effect.NO_PHANTOM: Severity.LIMITED,
    Effect.NOISY: Severity.LIMITED,
    Effect.PAD_STUCK: Severity.LIMITED,
    Effect.CRACKLES: Severity.SUSPECTED,
    Effect.PATTERN: Severity.LIMITED,
    Effect.MISSING: Severity.OUT,
    Effect.OTHER: Severity.SUSPECTED,
}
SAME_PRESS = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Told:
    """What was said of one step, and what it took; cost in the currency of the unit."""

    text: str = ""
    minutes: int | None = None
    cost: Decimal | None = None
    parts: str = ""


class FaultRefused(ValueError):
    """What was asked makes no sense; the message is a sentence that says what to do."""


def report_fault(
    by: Person,
    unit: GearUnit,
    channel: Channel | None,
    effect: str,
    severity: str | None = None,
    words: str = "",
    since: datetime | None = None,
    *,
    above_gain_db: float | None = None,
    pattern: str = "",
    often: str = "",
    joined_to: str = "",
    cured_by: str = "",
    usable_today: bool | None = None,
    workaround: str = "",
    workaround_until: datetime | None = None,
    suspects: Sequence[Thing] = (),
) -> Fault:
    """Report what a unit, or one channel of it, does. severity None: as bad as this effect usually is.

    suspects: whatever else it might be as well. Each is doubted until it is cleared, and so is the thing itself.
    Pressing twice makes one fault. Raises PermissionDenied and FaultRefused.
    """
    require(by, Act.REPORT_FAULT)
    now = timezone.now()
    if since is not None and since > now:
        raise FaultRefused("A fault can't begin in the future. Leave the time empty for now.")
    if workaround_until is not None and workaround_until <= now:
        raise FaultRefused("That end of the workaround is past. Choose a later one.")
    for thing, part in [(unit, channel), *suspects]:
        if part is not None and part.unit_id != thing.pk:
            raise FaultRefused(f"{thing} has no such channel. Choose one of its own.")
    usual = Severity.SUSPECTED if suspects else USUAL_SEVERITY[Effect(effect)]
    said = {
        "effect": effect,
        "severity": severity or usual,
        "words": words,
        "reported_by": by,
        "above_gain_db": above_gain_db if effect == Effect.NOISY else None,
        "pattern": pattern if effect == Effect.PATTERN else "",
        "often": often,
        "joined_to": joined_to,
        "cured_by": cured_by,
        "usable_today": usable_today,
        "workaround": workaround,
        "workaround_until": workaround_until,
    }
    with transaction.atomic():
        fault, new = _reported(unit, channel, since or now, said)
        if new:
            doubted = said | {"severity": Severity.SUSPECTED, "suspect_with": fault}
            for thing, part in suspects:
                if (thing, part) != (unit, channel):
                    _reported(thing, part, since or now, doubted)
    return fault


def _reported(
    unit: GearUnit, channel: Channel | None, since: datetime, said: dict[str, object]
) -> tuple[Fault, bool]:
    """The fault, and whether it is a new one."""
    hold(unit)
    now = timezone.now()
    same = Fault.objects.open().filter(reported_at__gt=now - SAME_PRESS, unit=unit, channel=channel, **said)
    if found := same.first():
        return found, False
    fault = Fault.objects.create(unit=unit, channel=channel, since=since, reported_at=now, **said)
    _remember(fault, Kind.REPORTED, fault.reported_by, Told(), since)
    settle(fault)
    return fault, True


def see_again(by: Person, fault: Fault, words: str = "") -> Fault:
    """It was seen once more: a doubt gains weight, and the bench has one more trace."""
    require(by, Act.REPORT_FAULT)
    return _change(by, fault, Kind.SEEN_AGAIN, Told(words))


def clear_suspect(by: Person, fault: Fault, outcome: str) -> Fault:
    """It wasn't this one. Raises FaultRefused where nothing else is suspected of the same trouble."""
    require(by, Act.REPORT_FAULT)
    if fault.severity != Severity.SUSPECTED or not other_suspects(fault):
        raise FaultRefused("Nothing else is suspected of it: press “Mended” on the bench instead.")
    return _change(by, fault, Kind.CLEARED, Told(outcome), outcome=outcome[:200], closed_at=timezone.now())


def found(by: Person, fault: Fault, where: str) -> Fault:
    """What was missing is there again. Whoever finds it may say so."""
    require(by, Act.REPORT_FAULT)
    if fault.effect != Effect.MISSING:
        raise FaultRefused("It isn't missing. Open it again to see how it stands.")
    return _change(
        by, fault, Kind.CLOSED, Told(where), step=Step.MENDED, outcome=where[:200], closed_at=timezone.now()
    )


def miss(unit: GearUnit, words: str, since: datetime) -> Fault:
    """The house itself finds that a unit isn't where it should be: nobody reported it."""
    said: dict[str, object] = {
        "effect": Effect.MISSING,
        "severity": Severity.OUT,
        "words": words[:300],
        "reported_by": None,
    }
    with transaction.atomic():
        return _reported(unit, None, since, said)[0]


def other_suspects(fault: Fault) -> list[Fault]:
    """What else is still suspected of the same trouble."""
    first = fault.suspect_with_id or fault.pk
    group = Fault.objects.open().filter(pk=first) | Fault.objects.open().filter(suspect_with=first)
    return list(group.exclude(pk=fault.pk).order_by("pk").select_related("unit", "channel__unit"))


def look_at(by: Person, fault: Fault, reproduced: bool | None, note: str = "") -> Fault:
    """Somebody of the bench has looked; reproduced: whether it did it again there."""
    require(by, Act.MEND)
    return _change(by, fault, Kind.STEP, Told(note), step=Step.LOOKED_AT, reproduced=reproduced)


def set_severity(by: Person, fault: Fault, severity: str) -> Fault:
    """Judge a fault anew: out of use, usable with a limit, or suspected."""
    require(by, Act.MEND)
    return _change(by, fault, Kind.JUDGED, severity=Severity(severity).value)


def start_bench(by: Person, fault: Fault) -> Fault:
    """On the bench, and so out of use, whatever it could still do before."""
    require(by, Act.MEND)
    return _change(by, fault, Kind.STEP, step=Step.ON_BENCH, severity=Severity.OUT)


def send_away(
    by: Person,
    fault: Fault,
    to: str = "",
    cost: Decimal | None = None,
    expected_back: datetime | None = None,
) -> Fault:
    """Sent out to be mended, to somebody, for a cost in the currency of the unit, back when they say."""
    require(by, Act.MEND)
    _not_past(expected_back)
    fields: dict[str, object] = {"step": Step.AWAY, "severity": Severity.OUT, "sent_to": to}
    if expected_back is not None:
        fields["expected_back"] = expected_back
    return _change(by, fault, Kind.STEP, Told(f"sent to {to}" if to else "", cost=cost), **fields)


def wait_for_parts(by: Person, fault: Fault, parts: str, expected_back: datetime | None = None) -> Fault:
    require(by, Act.MEND)
    _not_past(expected_back)
    fields: dict[str, object] = {"step": Step.PARTS, "severity": Severity.OUT}
    if expected_back is not None:
        fields["expected_back"] = expected_back
    return _change(by, fault, Kind.STEP, Told(parts=parts), **fields)


def note(
    by: Person,
    fault: Fault,
    note: str,
    minutes: int | None = None,
    cost: Decimal | None = None,
    parts: str = "",
) -> Fault:
    """What was found or done, and what it took. Nothing else changes."""
    require(by, Act.MEND)
    return _change(by, fault, Kind.NOTE, Told(note, minutes, cost, parts))


def set_expected_back(by: Person, fault: Fault, when: datetime | None) -> Fault:
    """Say when it should be back; None: not known. Raises FaultRefused for a time that is past."""
    require(by, Act.MEND)
    _not_past(when)
    return _change(by, fault, Kind.RETURN_DATE, expected_back=when)


def mend(by: Person, fault: Fault, outcome: str, *, heard: bool = False) -> Fault:
    """Mended, and what it held is released from now on; what has been stays.

    It stays doubted until somebody has heard it in use, see `hear`; heard: somebody has already.
    """
    require(by, Act.MEND)
    if heard:
        return _change(
            by, fault, Kind.CLOSED, Told(outcome), step=Step.MENDED, outcome=outcome, closed_at=timezone.now()
        )
    back: dict[str, object] = {"step": Step.UNHEARD, "severity": Severity.SUSPECTED, "expected_back": None}
    return _change(by, fault, Kind.STEP, Told(outcome), outcome=outcome, **back)


def hear(by: Person, fault: Fault, fine: bool = True, words: str = "") -> Fault:
    """What came back has been heard in use: it is fine, or it does it again and goes back to the bench's queue."""
    require(by, Act.REPORT_FAULT)
    if fault.step != Step.UNHEARD:
        raise FaultRefused("It isn't waiting to be heard. Open it again to see how it stands.")
    if fine:
        return _change(by, fault, Kind.CLOSED, Told(words), step=Step.MENDED, closed_at=timezone.now())
    again: dict[str, object] = {"step": Step.REPORTED, "severity": USUAL_SEVERITY[Effect(fault.effect)]}
    return _change(by, fault, Kind.SEEN_AGAIN, Told(words), **again)


def _not_past(when: datetime | None) -> None:
    if when is not None and when <= timezone.now():
        raise FaultRefused("That time is past. Choose a later one, or press “Mended” if it is back.")


def _change(
    by: Person, fault: Fault, kind: FaultEvent.Kind, told: Told | None = None, **fields: object
) -> Fault:
    """Set these fields of a fault that is open, remember it, claim what that asks for. A closed one stays closed."""
    with transaction.atomic():
        hold(fault.unit)
        fault.refresh_from_db()
        if fault.closed_at is not None:
            return fault
        for name, value in fields.items():
            setattr(fault, name, value)
        fault.save(update_fields=list(fields))
        _remember(fault, kind, by, told or Told(), timezone.now())
        settle(fault)
    return fault


def _remember(fault: Fault, kind: FaultEvent.Kind, by: Person | None, told: Told, at: datetime) -> None:
    FaultEvent.objects.create(
        fault=fault,
        kind=kind,
        at=at,
        by=by,
        severity=fault.severity,
        step=fault.step,
        expected_back=fault.expected_back,
        closed=fault.closed_at is not None,
        note=told.text[:1000],
        minutes=told.minutes,
        cost=told.cost,
        currency=fault.unit.currency if told.cost is not None else "",
        parts=told.parts[:200],
    )
