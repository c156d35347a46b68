"""What to restore, on the checklist of the next session of the job."""

from __future__ import annotations

from collections.abc import Sequence

from bookings.models import Session
from tasks.checklists.sheet import Line, Stage, key
from tasks.recalling.known import Earlier, earlier_of, units_of

BEFORE = "comfort"
"""Restored once everything is patched."""


def with_restores(session: Session, lines: Sequence[Line]) -> tuple[Line, ...]:
    """The checklist with a line for each unit whose settings were noted."""
    restores = [_line(each) for each in earlier_of(session, units_of(session)) if each.here or each.stand_in]
    at = next((number for number, line in enumerate(lines) if line.key == BEFORE), len(lines))
    return (*lines[:at], *restores, *lines[at:])


def _line(each: Earlier) -> Line:
    row = each.setting
    what = f"{row.unit}" if each.here else f"{each.stand_in} like {row.unit}"
    details = [("Settings", row.words)] if row.words else []
    if photos := len(row.photos.all()):
        details.append(("Photos", f"{photos} on the recall sheet"))
    if each.serves:
        details.append(("For", ", ".join(each.serves)))
    return Line(
        key("restore", row.unit.tag, str(each.stand_in or ""), row.words),
        Stage.SETUP,
        f"Set {what} as in “{row.session.title}”"[:160],
        3,
        tuple(details),
        " ".join(f"{said}." for said in each.warnings),
    )
