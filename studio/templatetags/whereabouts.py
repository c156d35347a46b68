"""Where a unit is and what of its set is missing, for its page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils import timezone

from studio.models import GearUnit, Move, Person
from studio.whereabouts.carrying import to_carry
from studio.whereabouts.count_views import count_going_on
from studio.whereabouts.views import here_form
from studio.whereabouts.where import in_words, where_is

register = template.Library()


@register.inclusion_tag("studio/whereabouts/on_unit.html", takes_context=True)
def where_it_is(context: template.Context, unit: GearUnit) -> dict[str, Any]:
    """Of now, whatever time the page asks about. Three queries, and one more while a room is counted."""
    where = where_is(unit)
    return {
        "unit": unit,
        "where": where,
        "words": in_words(where, unit),
        "here": here_form(context["request"], unit, where.room),
        "parts": unit.parts.all(),
        "may": context["may"],
        "count": count_going_on(context["request"]),
        "csrf_token": context.get("csrf_token"),
    }


@register.simple_tag
def carries(person: Person) -> list[Move]:
    """What this person, or anybody at their site, should carry within a day. Two queries at most."""
    return to_carry(person)


@register.inclusion_tag("studio/whereabouts/to_carry.html", takes_context=True)
def moves_asked(
    context: template.Context, moves: Iterable[Move], *, from_day: bool = False
) -> dict[str, Any]:
    return {
        "to_carry": list(moves),
        "from_day": from_day,
        "steps": [("done", "It is there"), ("off", "Not needed")],
        "now": timezone.now(),
        "csrf_token": context.get("csrf_token"),
    }
