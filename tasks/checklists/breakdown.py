"""Breakdown: copies, phantom off and drained, neutral, then unplug, bring back and count. Common practice."""

from __future__ import annotations

from itertools import groupby

from tasks.checklists import cautions, headphones, inserts
from tasks.checklists.sheet import OFF_WAIT_SECONDS, Line, Sheet, SheetInput, Stage, key


def breakdown(sheet: Sheet) -> list[Line]:
    lines = [
        Line("copies", Stage.BREAKDOWN, "Copies made in two places, opened and listened to", 10),
    ]
    if sheet.inputs:
        wait = max([OFF_WAIT_SECONDS, *(each.drain_seconds for each in sheet.inputs)])
        lines += [
            Line(
                "end-shut",
                Stage.BREAKDOWN,
                f"Monitors and headphones shut, phantom off, wait {wait} seconds",
                3,
                (),
                f"{cautions.HEARING} {cautions.LIVE_PATCH}",
            ),
            Line("neutral", Stage.BREAKDOWN, "Desk and preamps to neutral, before anything is unplugged", 5),
            *inserts.put_back(sheet.inputs),
            *_bring_back(sheet.inputs),
            *headphones.bring_back(sheet.cues),
            Line(
                "count",
                Stage.BREAKDOWN,
                "Count stands and cables back",
                5,
                (("Stands", _stands_in_words(sheet.inputs)), ("Lines", str(len(sheet.inputs)))),
                cautions.LIFT,
            ),
        ]
    lines.append(
        Line(
            "leave",
            Stage.BREAKDOWN,
            f"{sheet.room} as drawn or marked as left up; store locked; times entered",
            5,
            (),
            cautions.TRIP,
        )
    )
    return lines


def _bring_back(inputs: tuple[SheetInput, ...]) -> list[Line]:
    units = sorted({(each.fetch, each.unit) for each in inputs if each.unit})
    valve = {each.unit for each in inputs if each.own_supply}
    lines = []
    for place, group in groupby(units, key=lambda pair: pair[0]):
        tags = [tag for _, tag in group]
        lines.append(
            Line(
                key("back", place, *tags),
                Stage.BREAKDOWN,
                f"Bring {len(tags)} back to {place}"[:160],
                2 + len(tags),
                (("Bring back", ", ".join(tags)),),
                cautions.VALVE if valve & set(tags) else "",
            )
        )
    return lines


def _stands_in_words(inputs: tuple[SheetInput, ...]) -> str:
    stands = sorted(each.stand for each in inputs if each.stand)
    return ", ".join(f"{len(list(group))} {kind}" for kind, group in groupby(stands)) or "none"
