"""Setup: walk, warm up, fetch, everything dead, place, patch, comfort, tracks. Order: common practice."""

from __future__ import annotations

from itertools import groupby

from tasks.checklists import cautions, headphones, inserts
from tasks.checklists.sheet import (
    OFF_WAIT_SECONDS,
    Line,
    Sheet,
    SheetInput,
    SheetMains,
    Stage,
    key,
    numbers_in_words,
)


def setup(sheet: Sheet) -> list[Line]:
    lines = [_walk(sheet.room, sheet.mains)]
    if sheet.unfilled:
        lines.append(
            Line(
                "open-inputs",
                Stage.SETUP,
                "Ask the engineer about the inputs that are still open",
                3,
                (("Open", "; ".join(sheet.unfilled)),),
            )
        )
    if sheet.mains and sheet.mains.too_much:
        lines.append(_spread(sheet.mains))
    lines += _warm_up(sheet.inputs)
    lines += inserts.warm_up(sheet.inputs)
    lines += _fetch(sheet.inputs)
    lines += inserts.fetch(sheet.inputs)
    if sheet.inputs:
        lines.append(_dead_first(sheet.inputs))
    lines += [_place(each) for each in sheet.inputs]
    lines += _patch(sheet.inputs)
    lines += inserts.patch_and_set(sheet.inputs)
    lines += headphones.set_up(sheet.cues)
    lines.append(
        Line(
            "comfort",
            Stage.SETUP,
            "Chairs, music stands, lights, water, pencils; room at 20 to 22 °C",
            8,
            (
                (
                    "The artist never moves for us",
                    "the stand, the cable or the distance does: spares at hand",
                ),
                ("Spares", "two tall stands and two longer cables beside the players"),
            ),
        )
    )
    if sheet.inputs:
        lines.append(
            Line(
                "tracks",
                Stage.SETUP,
                "Session file named, tracks laid out, space on the drive looked at",
                5,
                (("Tracks", str(len(sheet.inputs))),),
            )
        )
    return lines


def _walk(room: str, mains: SheetMains | None) -> Line:
    look = ("Look for", "anything broken, last night's leftovers, a clear place for players' cases")
    details = (look, ("Mains load", _load(mains))) if mains else (look,)
    return Line("walk", Stage.SETUP, f"Lights on and a walk round {room}", 5, details, cautions.TRIP)


def _load(mains: SheetMains) -> str:
    whole = f"{mains.mains_v * mains.circuit_a:,.0f} VA ({mains.mains_v:g} V, {mains.circuit_a:g} A)"
    unknown = f"; {mains.unknown} whose watts aren't known on top" if mains.unknown else ""
    return f"{mains.power_w:,.0f} W of {whole}, {mains.share:.0%}{unknown}; what the players bring on top"


def _spread(mains: SheetMains) -> Line:
    title = f"Spread the mains load over more circuits: {mains.share:.0%} of one"
    caution = f"{cautions.CIRCUIT} {cautions.MAINS}"
    return Line("mains-load", Stage.SETUP, title, 5, (("Load", _load(mains)),), caution)


def _warm_up(inputs: tuple[SheetInput, ...]) -> list[Line]:
    units = [each.unit for each in inputs if each.own_supply]
    if not units:
        return []
    title = f"Warm up the supply of {', '.join(units)}"
    return [
        Line(
            key("warm", *units),
            Stage.SETUP,
            title,
            2,
            (("Needs", "15 minutes before use"),),
            f"{cautions.VALVE} {cautions.MAINS}",
        )
    ]


def _fetch(inputs: tuple[SheetInput, ...]) -> list[Line]:
    """One walk to each storage place."""
    units = sorted({(each.fetch, each.unit) for each in inputs if each.unit})
    lines = []
    for place, group in groupby(units, key=lambda pair: pair[0]):
        tags = [tag for _, tag in group]
        title = f"Fetch {len(tags)} from {place}" if len(tags) > 1 else f"Fetch {tags[0]} from {place}"
        lines.append(
            Line(
                key("fetch", place, *tags),
                Stage.SETUP,
                title[:160],
                2 + len(tags),
                (("Fetch", ", ".join(tags)), ("Look at", "pad, filter and pattern switches")),
                cautions.LIFT,
            )
        )
    return lines


def _dead_first(inputs: tuple[SheetInput, ...]) -> Line:
    wait = max([OFF_WAIT_SECONDS, *(each.drain_seconds for each in inputs)])
    never = [f"line {each.line} ({each.unit})" for each in inputs if each.never_phantom and each.preamp]
    details = [
        ("Shut", "monitors and every headphone path"),
        ("Then", f"phantom off everywhere, wait {wait} s"),
    ]
    if never:
        details.append(("Never phantom", ", ".join(never)))
    if patched := [
        f"line {each.line} ({each.unit})" for each in inputs if each.never_phantom and each.patched
    ]:
        details.append(("Only then through a patch point", ", ".join(patched)))
    return Line(
        "dead-first",
        Stage.SETUP,
        f"Before any line is touched: all phantom off, wait {wait} seconds",
        3,
        tuple(details),
        f"{cautions.LIVE_PATCH} {cautions.HEARING}",
    )


def _place(each: SheetInput) -> Line:
    details: list[tuple[str, str]] = []
    if each.unit:
        details.append(("Fetch", f"{each.unit}, {each.fetch}"))
    if each.pair:
        details.append(("Pair", each.pair))
    if each.stand:
        details.append(("Stand", each.stand))
    if each.cable:
        details.append(("Cable", each.cable))
    details.append(("Line", str(each.line)))
    if each.preamp:
        through = ", through a patch point" if each.patched else ""
        details.append(("Preamp", f"{each.preamp}, channel {each.channel}{through}"))
    details.append(("Recorder", f"input {each.recorder_input}"))
    switches = ["pad in"] * each.pad + [f"high-pass {each.high_pass_hz:g} Hz"] * bool(each.high_pass_hz)
    if switches:
        details.append(("Switches", ", ".join(switches)))
    if each.gain_db is not None:
        details.append(("Gain", f"{each.gain_db:g} dB to begin with"))
    return Line(
        key("place", each.label, each.unit, each.line),
        Stage.SETUP,
        _where(each)[:160],
        5 if each.pickup == "mic" else 3,
        tuple(details),
        _caution_of(each),
        each.number,
    )


def _where(each: SheetInput) -> str:
    if each.pickup != "mic":
        box = f"DI {each.unit}" if each.unit else "line out"
        return f"{each.label}: {box} to line {each.line}"
    place = each.position or "as the engineer likes it"
    if each.distance_cm:
        near, far = each.distance_cm
        place += f", {near:g} to {far:g} cm" if near != far else f", {near:g} cm"
    return f"{each.label}: {each.unit_kind} {each.unit}, {place}"


def _caution_of(each: SheetInput) -> str:
    found = []
    if each.never_phantom and each.preamp:
        found.append(f"Never phantom: {each.reach} stays off" if each.reach else "Never phantom")
    if each.stand == "tall boom":
        found.append(cautions.TALL_STAND)
    if each.own_supply:
        found.append(cautions.VALVE)
    return " ".join(f"{said.rstrip('.')}." for said in [*found, *each.cautions])


def _patch(inputs: tuple[SheetInput, ...]) -> list[Line]:
    by_preamp: dict[str, list[SheetInput]] = {}
    for each in inputs:
        by_preamp.setdefault(each.preamp, []).append(each)
    return [_patch_line(preamp, group) for preamp, group in by_preamp.items()]


def _patch_line(preamp: str, group: list[SheetInput]) -> Line:
    where = preamp or "the recorder's line inputs"
    lines = f"lines {numbers_in_words(e.line for e in group)}" if len(group) > 1 else f"line {group[0].line}"
    return Line(
        key("patch", preamp, *((e.line, e.channel, *inserts.spots(e), e.recorder_input) for e in group)),
        Stage.SETUP,
        f"Patch {lines} to {where}",
        max(2, len(group)),
        tuple((f"Line {e.line}", _goes_to(e)) for e in group),
        f"{cautions.LIVE_PATCH} {cautions.TRIP}",
    )


def _goes_to(each: SheetInput) -> str:
    channel = f"channel {each.channel}, " if each.preamp else ""
    return f"{channel}{inserts.through(each)}recorder input {each.recorder_input} · {each.label}"
