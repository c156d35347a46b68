"""What every page needs: what this person may open."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from studio.access import Act, may
from studio.models import Person


def house(request: HttpRequest) -> dict[str, Any]:
    person = getattr(request, "user", None)
    if not isinstance(person, Person):
        return {"may": {}}
    return {"may": {act.name.lower(): may(person, act) for act in Act}}
