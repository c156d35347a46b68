"""A time as somebody types it, on a site's clock. Pure."""

from __future__ import annotations

from datetime import datetime, tzinfo

from studio.clock import twice_or_never

HOW = "Write a day and an hour, like 2027-03-02T16:40."


def read_time(text: str, tz: tzinfo, *, later: bool = False) -> datetime:
    """The instant of “2027-03-02T16:40” on this clock, or of an ISO 8601 time with its own offset.

    later: which of the two is meant when the clocks go back. Raises ValueError with a sentence.
    """
    text = text.strip()
    try:
        wall = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"“{text}” is not a time. {HOW}") from None
    if len(text) <= len("2027-03-02") or not 2000 <= wall.year < 2200:
        raise ValueError(f"“{text}” does not say which hour of which day. {HOW}")
    if wall.tzinfo is not None:
        return wall
    if twice_or_never(wall, tz) == "never":
        raise ValueError(
            f"The clocks skip {wall:%H:%M} on that day. Choose a time before or after the change."
        )
    return wall.replace(tzinfo=tz, fold=int(later))
