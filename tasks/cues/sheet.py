"""The headphone plan as a table, with the load of each output. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.cues.planning import Cue, Phones, drives, load_ohm
from tasks.papers.sheets import Sheet

HEADINGS = ("Player", "Mix", "Output", "Headphones", "Load on the output", "Note")


def sheet(cues: Sequence[Cue]) -> Sheet:
    return Sheet("cues", "Headphones", HEADINGS, tuple(_row(cue, cues) for cue in cues))


def _row(cue: Cue, cues: Sequence[Cue]) -> tuple[str, ...]:
    return (
        cue.player,
        cue.mix or "none",
        cue.output.name if cue.output else "none",
        f"{cue.phones.tag} ({cue.phones.model})" if cue.phones else "none",
        load_in_words(cue, cues),
        cue.why,
    )


def load_in_words(cue: Cue, cues: Sequence[Cue]) -> str:
    """Like “80 ohm, at least 16”, or “27 ohm, 3 pairs in parallel; at least 32: too low”."""
    if cue.output is None:
        return ""
    pairs: list[Phones | None] = [each.phones for each in cues if each.output == cue.output]
    load, least = load_ohm(pairs), cue.output.least_load_ohm
    if load is None:
        return "not known"
    said = f"{load:.0f} ohm" + (f", {len(pairs)} pairs in parallel" if len(pairs) > 1 else "")
    if least is None:
        return f"{said}; what the output drives isn't known"
    return f"{said}; at least {least:g}" + (
        "" if drives(cue.output, pairs) else ": too low, take one pair off"
    )


def mixes(cues: Sequence[Cue]) -> list[tuple[str, tuple[str, ...]]]:
    """Each mix with who hears it, in the order in which they are needed."""
    found: dict[str, list[str]] = {}
    for cue in cues:
        if cue.mix:
            found.setdefault(cue.mix, []).append(cue.player)
    return [(mix, tuple(who)) for mix, who in found.items()]
