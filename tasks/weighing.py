"""The costs of a plan as this house weighs them."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from studio.access import Act, require
from studio.models import Person
from tasks.models import HouseCost
from tasks.planning.costs import CONCERNS, Costs


def costs_here() -> Costs:
    """One query."""
    known = {concern.field for concern in CONCERNS}
    return Costs(**{row.field: row.value for row in HouseCost.objects.all() if row.field in known})


def weigh(by: Person, values: Mapping[str, int]) -> Costs:
    """Keep what is other than usual; what is usual again is forgotten. Raises PermissionDenied."""
    require(by, Act.SET_UP_HOUSE)
    usual = Costs()
    with transaction.atomic():
        for field, value in values.items():
            if value == getattr(usual, field):
                HouseCost.objects.filter(field=field).delete()
            else:
                HouseCost.objects.update_or_create(
                    field=field, defaults={"value": value, "by": by, "at": timezone.now()}
                )
    return costs_here()
