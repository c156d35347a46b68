"""Sets: a unit and the parts that belong to it. What can't be used without a part is out while that is missing."""

from __future__ import annotations

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from studio import faults
from studio.access import Act, require
from studio.models import Fault, GearUnit, Part, Person
from studio.models.faults import IS_MISSING

Effect = Fault.Effect


class PartRefused(ValueError):
    """The message is a sentence that says what to do."""


def add_part(by: Person, unit: GearUnit, name: str, needed: bool = True) -> Part:
    require(by, Act.KEEP_GEAR)
    name = " ".join(name.split())[:80]
    if not name:
        raise PartRefused("Name the part, like “supply” or “shock mount”.")
    if unit.parts.filter(name__iexact=name).exists():
        raise PartRefused(f"{unit} has a part called {name} already. Give this one another name.")
    return Part.objects.create(unit=unit, name=name, needed=needed)


def drop_part(by: Person, part: Part) -> None:
    """It no longer belongs to the set, and is no longer missed."""
    require(by, Act.KEEP_GEAR)
    with transaction.atomic():
        part_found(by, part)
        part.delete()


def part_missing(by: Person, part: Part) -> Part:
    """The part isn't there. One that is needed takes the unit out of use; any other is only said."""
    require(by, Act.REPORT_FAULT)
    with transaction.atomic():
        part = Part.objects.select_for_update(of=("self",)).select_related("unit__site").get(pk=part.pk)
        if part.missing_since is None:
            part.missing_since = timezone.now()
            part.save(update_fields=["missing_since"])
            severity = Fault.Severity.OUT if part.needed else Fault.Severity.LIMITED
            faults.report_fault(by, part.unit, None, Effect.MISSING, severity, words_of(part))
    return part


def part_found(by: Person, part: Part) -> Part:
    require(by, Act.REPORT_FAULT)
    with transaction.atomic():
        part = Part.objects.select_for_update(of=("self",)).select_related("unit__site").get(pk=part.pk)
        if part.missing_since is not None:
            part.missing_since = None
            part.save(update_fields=["missing_since"])
            for fault in _missing(part.unit).filter(words=words_of(part)):
                faults.found(by, fault, f"{part.name} found")
    return part


def words_of(part: Part) -> str:
    return f"{part.name}{IS_MISSING}"


def missing_itself(unit: GearUnit) -> list[Fault]:
    """Open faults that say that the unit, not a part of it, isn't where it should be."""
    of_parts = [words_of(part) for part in unit.parts.all()]
    return list(_missing(unit).exclude(words__in=of_parts))


def _missing(unit: GearUnit) -> QuerySet[Fault]:
    found = Fault.objects.open().filter(unit=unit, channel__isnull=True, effect=Effect.MISSING)
    return found.select_related("unit__site", "channel")
