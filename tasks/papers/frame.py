"""What every paper of a session has around it: when it was true, what changed since one looked, who has seen it."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from bookings.models import Session
from studio.access import SignedInRequest
from studio.importing.table import neutralised
from tasks.models import Plan
from tasks.papers.reading import look_at_sheet, readers_of
from tasks.papers.sheets import Sheet


def framed(
    request: SignedInRequest, session: Session, plan: Plan | None, sheet: Sheet, by: int
) -> dict[str, Any]:
    """The context of a paper. by: the column that names what a row is about. Four queries."""
    differ = partial(row_differences, headings=sheet.headings, by=by)
    return {
        "session": session,
        "plan": plan,
        "sheet": sheet,
        "news": look_at_sheet(session, request.user, sheet, differ) if plan else None,
        "readers": readers_of(session, sheet) if plan else [],
        "now": timezone.now(),
    }


def row_differences(
    before: Sequence[Sequence[str]], now: Sequence[Sequence[str]], *, headings: Sequence[str], by: int
) -> Iterator[str]:
    """What is other than before, a sentence for each thing. Rows of another width are of an older paper."""
    old = {row[by]: row for row in before if len(row) == len(headings)}
    new = {row[by]: row for row in now}
    for name, row in new.items():
        if name not in old:
            yield f"New: {name}."
        elif changed := list(_changed(headings, old[name], row)):
            yield f"{name}: {', '.join(changed)}."
    yield from (f"No longer: {name}." for name in old if name not in new)


def _changed(headings: Sequence[str], old: Sequence[str], new: Sequence[str]) -> Iterator[str]:
    for heading, before, after in zip(headings, old, new, strict=True):
        if before != after:
            yield f"{heading.lower()} {after or 'none'} instead of {before or 'none'}"


def as_csv(session: Session, sheet: Sheet) -> HttpResponse:
    """With a mark by which spreadsheet programs know UTF-8, and no cell that one would compute."""
    response = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="session-{session.pk}-{sheet.name}.csv"'
    writer = csv.writer(response)
    writer.writerow(sheet.headings)
    writer.writerows([neutralised(cell) for cell in row] for row in sheet.rows)
    return response
