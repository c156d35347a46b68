"""Lengths of time in words."""

from __future__ import annotations

from datetime import timedelta

from django import template

from studio.clock import say_length

register = template.Library()


@register.filter
def length_said(length: timedelta | None) -> str:
    """Like “9 h 40 min”; nothing for None."""
    return "" if length is None else say_length(length)
