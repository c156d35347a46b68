"""Phantom check and line check, in the order that keeps ears and ribbons whole. Common practice."""

from __future__ import annotations

from tasks.checklists import cautions, headphones
from tasks.checklists.sheet import ON_WAIT_SECONDS, Line, Sheet, SheetInput, Stage, key


def phantom_check(sheet: Sheet) -> list[Line]:
    with_preamp = [each for each in sheet.inputs if each.preamp]
    if not with_preamp:
        return []
    on = [each for each in with_preamp if each.phantom]
    off = [each for each in with_preamp if each.never_phantom]
    lines = [
        Line(
            "shut",
            Stage.PHANTOM,
            "Shut every monitor and headphone path, gains down",
            1,
            (),
            cautions.HEARING,
        )
    ]
    if off:
        lines.append(
            Line(
                key("stays-off", *((e.line, e.unit) for e in off)),
                Stage.PHANTOM,
                f"See that phantom is off and stays off on {len(off)} {'lines' if len(off) > 1 else 'line'}",
                2,
                tuple((f"Line {e.line}", f"{e.preamp} {e.channel}, {e.unit}, {e.label}") for e in off),
                cautions.STAYS_OFF,
            )
        )
    for (preamp, reach), group in _by_switch(on).items():
        details = tuple((f"Channel {e.channel}", f"{e.unit}, {e.label}") for e in group)
        title = f"{preamp}: phantom on, {reach}; wait {ON_WAIT_SECONDS} seconds"
        lines.append(
            Line(
                key("on", preamp, reach, *((e.channel, e.unit) for e in group)),
                Stage.PHANTOM,
                title[:160],
                1,
                details,
            )
        )
    if on:
        lines.append(
            Line(
                "powered",
                Stage.PHANTOM,
                "Each powered unit is alive, nothing else is powered",
                2,
                (("Powered", ", ".join(e.unit for e in on)),),
            )
        )
    return lines


def _by_switch(inputs: list[SheetInput]) -> dict[tuple[str, str], list[SheetInput]]:
    found: dict[tuple[str, str], list[SheetInput]] = {}
    for each in sorted(inputs, key=lambda e: (e.preamp, e.channel)):
        found.setdefault((each.preamp, each.reach), []).append(each)
    return found


def line_check(sheet: Sheet) -> list[Line]:
    lines = [
        Line(
            key("line", each.label, each.line, each.recorder_input),
            Stage.LINE_CHECK,
            f"{each.label}: signal on recorder input {each.recorder_input}, right line, no noise"[:160],
            1,
            (("Line", str(each.line)), ("Preamp", f"{each.preamp}, channel {each.channel}"))
            if each.preamp
            else (("Line", str(each.line)),),
            "",
            each.number,
        )
        for each in sheet.inputs
    ]
    lines.append(
        Line(
            "headphones",
            Stage.LINE_CHECK,
            "Signal to every headphone place, both ears, then talkback",
            5,
            headphones.check(sheet.cues),
            cautions.HEARING,
        )
    )
    return lines
