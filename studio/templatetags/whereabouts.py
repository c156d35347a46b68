"""Where a unit is and what of its set is missing, for its page."""

from __future__ import annotations

from typing import Any

from django import template

from studio.models import GearUnit
from studio.whereabouts.views import here_form
from studio.whereabouts.where import in_words, where_is

register = template.Library()


@register.inclusion_tag("studio/whereabouts/on_unit.html", takes_context=True)
def where_it_is(context: template.Context, unit: GearUnit) -> dict[str, Any]:
    """Of now, whatever time the page asks about. Three queries."""
    where = where_is(unit)
    return {
        "unit": unit,
        "where": where,
        "words": in_words(where, unit),
        "here": here_form(context["request"], unit, where.room),
        "parts": unit.parts.all(),
        "may": context["may"],
        "csrf_token": context.get("csrf_token"),
    }
