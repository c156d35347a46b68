"""Half-open spans of time [start, end): pure arithmetic. An end of None means open-ended."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """[start, end), both aware. The length is elapsed time, whatever the clocks do meanwhile."""

    start: datetime
    end: datetime | None

    def __post_init__(self) -> None:
        if self.start.tzinfo is None or (self.end is not None and self.end.tzinfo is None):
            raise ValueError("A span needs times with a zone.")
        if self.end is not None and self.end <= self.start:
            raise ValueError("A span has to end after it starts.")

    @property
    def length(self) -> timedelta:
        """Elapsed time; timedelta.max when open-ended."""
        if self.end is None:
            return timedelta.max
        return self.end.astimezone(UTC) - self.start.astimezone(UTC)

    def overlaps(self, other: Span) -> bool:
        """True when some instant lies in both; spans that only touch don't overlap."""
        return (other.end is None or self.start < other.end) and (self.end is None or other.start < self.end)

    def __contains__(self, instant: datetime) -> bool:
        return self.start <= instant and (self.end is None or instant < self.end)


def merged(spans: Iterable[Span]) -> list[Span]:
    """The same instants as few spans, in order: overlapping and touching spans become one."""
    out: list[Span] = []
    for span in sorted(spans, key=lambda s: s.start):
        last = out[-1] if out else None
        if last is None or (last.end is not None and span.start > last.end):
            out.append(span)
        elif last.end is not None and (span.end is None or span.end > last.end):
            out[-1] = Span(last.start, span.end)
    return out


def gaps(busy: Iterable[Span], within: Span) -> list[Span]:
    """What is left of `within` when the busy spans are taken out."""
    free: list[Span] = []
    at: datetime | None = within.start
    for span in merged(busy):
        if not span.overlaps(within):
            continue
        if at is not None and span.start > at:
            free.append(Span(at, span.start))
        at = span.end
        if at is None:
            return free
    if at is not None and (within.end is None or at < within.end):
        free.append(Span(at, within.end))
    return free


def first_gap(busy: Iterable[Span], after: datetime, length: timedelta) -> datetime | None:
    """The first instant from `after` on at which `length` is free; None when something has no end."""
    for gap in gaps(busy, Span(after, None)):
        if gap.length >= length:
            return gap.start
    return None


def peak_use(taken: Sequence[tuple[Span, int]], within: Span) -> int:
    """The highest sum of quantities at any instant of `within`."""
    steps: list[tuple[datetime, int]] = []
    for span, quantity in taken:
        if not span.overlaps(within):
            continue
        steps.append((max(span.start, within.start), quantity))
        if span.end is not None and (within.end is None or span.end < within.end):
            steps.append((span.end, -quantity))
    peak = level = 0
    for _, change in sorted(steps):
        level += change
        peak = max(peak, level)
    return peak
