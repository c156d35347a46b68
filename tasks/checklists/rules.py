"""From the plan to the checklist. The minutes are a house's first guess."""

from __future__ import annotations

from tasks.checklists.breakdown import breakdown
from tasks.checklists.checks import line_check, phantom_check
from tasks.checklists.setup import setup
from tasks.checklists.sheet import Line, Sheet


def checklist(sheet: Sheet) -> tuple[Line, ...]:
    """All lines in working order: pull, set, patch, phantom, lines, headphones, breakdown."""
    return (*setup(sheet), *phantom_check(sheet), *line_check(sheet), *breakdown(sheet))
