"""The dry run as the rows of the file: each with what becomes of it and what is asked of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from studio.gearlists.taking_in import Plan
from studio.importing.table import Finding


@dataclass(frozen=True, slots=True)
class ReportRow:
    """sort: in, out, open or wrong; so that a reader sees in words what became of the row."""

    row: int
    sort: str
    what: str
    asked: tuple[str, ...] = ()


def report_rows(made: Plan) -> list[ReportRow]:
    asked = _by_row(made.reading.questions)
    wrong = _by_row(made.reading.errors)
    found = {row: ReportRow(row, "wrong", " ".join(said)) for row, said in wrong.items()}
    for line in made.lines:
        what = f"{line.pieces} × {line.name}: {line.what}"
        found[line.row] = ReportRow(line.row, "in", what, asked.get(line.row, ()))
    for each in made.reading.skipped:
        found[each.row or 0] = ReportRow(each.row or 0, "out", each.what)
    for row, said in asked.items():
        found.setdefault(row, ReportRow(row, "open", "nothing is made of it until it is answered", said))
    return [found[row] for row in sorted(found)]


def _by_row(findings: Iterable[Finding]) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = defaultdict(list)
    for finding in findings:
        if finding.row is not None:
            found[finding.row].append(finding.what)
    return {row: tuple(said) for row, said in found.items()}
