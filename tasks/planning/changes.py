"""What is other in a new plan than in the one before, in sentences. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from tasks.planning.snapshot import Plan, PlannedInput
from tasks.planning.steady import Had


def differences(before: Mapping[str, Had], made: Plan) -> list[str]:
    """Input by input, by their labels; what is lost first."""
    now = {row.label: row for row in made.inputs}
    open_now = {need.label: need for need in made.unfilled}
    said = [f"Open now: {label}. {open_now[label].reason}" for label in before if label in open_now]
    said += [f"No longer: {label}." for label in before if label not in now and label not in open_now]
    for label, row in now.items():
        if label not in before:
            said.append(f"New: input {row.number} {label}, {_has(row)}.")
        elif other := list(_other(before[label], row)):
            said.append(f"{label}: {', '.join(other)}.")
    return said


def _has(row: PlannedInput) -> str:
    spot = f", {row.preamp} channel {row.channel}" if row.preamp else ""
    return f"{row.unit or 'line output'}{spot}"


def _other(had: Had, row: PlannedInput) -> Iterator[str]:
    if had.unit != (row.unit or ""):
        yield f"{row.unit or 'line output'} instead of {had.unit or 'line output'}"
    spot = (row.preamp, row.channel) if row.preamp else None
    if had.spot != spot:
        yield f"{_said(spot)} instead of {_said(had.spot)}"
    if had.line is not None and had.line != row.line:
        yield f"line {row.line} instead of {had.line}"


def _said(spot: tuple[str | None, int | None] | None) -> str:
    return f"{spot[0]} channel {spot[1]}" if spot else "no preamp"
