"""Intervals that people give for service: they disagree, so that a house chooses its own. For reading only."""

from __future__ import annotations

from typing import NamedTuple


class Said(NamedTuple):
    what: str
    interval: str
    source: str


PRACTICE = "common practice, no single source"
AS_NZS = "AS/NZS 3760, Table 4, as reproduced"
SAID = [
    Said("Electrical test, earthed gear in a workshop", "6 months", AS_NZS),
    Said("Electrical test, double-insulated gear in a workshop", "12 months", AS_NZS),
    Said("Electrical test, leads that are flexed or badly used", "12 months", AS_NZS),
    Said("Electrical test, gear for hire", "3 months, and looked over before each hire", AS_NZS),
    Said("First test of earthed gear and leads", "1 to 5 years, by risk", "HSE INDG236, as quoted"),
    Said("Tape path, cleaning", "each session, or about 5 hours of use", PRACTICE),
    Said("Tape machine, full line-up", "6 months", PRACTICE),
    Said("Monitor connections, cleaning", "1 month", PRACTICE),
    Said("Valves", "no fixed life: on noise, dullness or test", PRACTICE),
    Said("Memory batteries", "note the date, look again in 5 years", PRACTICE),
    Said("Cables, every one", "once in the quiet season", PRACTICE),
    Said("Piano, tuning", "within 3 days before a session", PRACTICE),
]
