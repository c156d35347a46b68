"""Headphones on the checklist: to every player before the line check, counted back at the end."""

from __future__ import annotations

from itertools import groupby

from tasks.checklists import cautions
from tasks.checklists.sheet import Line, SheetCue, Stage, key


def set_up(cues: tuple[SheetCue, ...]) -> list[Line]:
    wearing = [cue for cue in cues if cue.mix]
    if not wearing:
        return []
    count = len(wearing)
    return [
        Line(
            key("headphones", *((cue.player, cue.mix, cue.output, cue.phones) for cue in wearing)),
            Stage.SETUP,
            f"Headphones to {count} {'players' if count > 1 else 'player'}, labelled, level down",
            2 + 2 * count,
            (*_fetch(wearing), *((cue.player, says(cue)) for cue in wearing)),
            f"{cautions.HEARING} {cautions.TRIP}",
        )
    ]


def _fetch(wearing: list[SheetCue]) -> list[tuple[str, str]]:
    things = sorted({pair for cue in wearing for pair in cue.fetch})
    places = groupby(things, key=lambda pair: pair[0])
    return [("Fetch", f"{', '.join(tag for _, tag in group)}, {place}") for place, group in places]


def says(cue: SheetCue) -> str:
    """Like “HP-01 on Cluster 1 output 2, mix Band”."""
    where = f" on {cue.output}" if cue.output else ", no output free"
    return f"{cue.phones or 'no pair free'}{where}, mix {cue.mix}"


def check(cues: tuple[SheetCue, ...]) -> tuple[tuple[str, str], ...]:
    """What to listen to, place by place."""
    return tuple((cue.player, says(cue)) for cue in cues if cue.mix)


def bring_back(cues: tuple[SheetCue, ...]) -> list[Line]:
    things = sorted({pair for cue in cues for pair in cue.fetch})
    if not things:
        return []
    tags = [tag for _, tag in things]
    return [
        Line(
            key("headphones-back", *tags),
            Stage.BREAKDOWN,
            f"{len(tags)} headphones and their amplifiers back, wiped, counted",
            2 + len(tags),
            tuple(
                (place, ", ".join(t for _, t in group))
                for place, group in groupby(things, key=lambda p: p[0])
            ),
        )
    ]
