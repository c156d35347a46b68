"""An independent check of a plan against the hard rules. It shares no code with the planner, and must not.

Everything is worked out anew from the records, even what a record could answer itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

from tasks.planning.snapshot import Need, Phantom, Pickup, PickupUnit, Plan, PlannedInput, Snapshot, Switching


def violations(snapshot: Snapshot, plan: Plan) -> list[str]:
    """Every broken rule in a sentence; empty for a plan that holds."""
    checks: tuple[Callable[[Snapshot, Plan], Iterator[str]], ...] = (
        _each_need_answered_once,
        _records_agree,
        _units,
        _levels_and_wishes,
        _stands,
        _weights,
        _cables,
        _outlets,
        _patch_points,
        _lines_and_recorder_inputs,
        _channels,
        _gain,
        _switches,
        _phantom,
        _current,
        _report,
    )
    return [text for check in checks for text in check(snapshot, plan)]


def _need_of(snapshot: Snapshot, row: PlannedInput) -> Need | None:
    same = (n for n in snapshot.needs if (n.number, n.label, n.source) == (row.number, row.label, row.source))
    return next(same, None)


def _unit_of(snapshot: Snapshot, row: PlannedInput) -> PickupUnit | None:
    return next((u for u in snapshot.pickups if u.tag == row.unit), None)


def _rows_with_units(snapshot: Snapshot, plan: Plan) -> Iterator[tuple[PlannedInput, Need, PickupUnit]]:
    for row in plan.inputs:
        need, unit = _need_of(snapshot, row), _unit_of(snapshot, row)
        if need and unit:
            yield row, need, unit


def _each_need_answered_once(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    wanted = Counter(need.number for need in snapshot.needs)
    answered = Counter([row.number for row in plan.inputs] + [left.number for left in plan.unfilled])
    for number in sorted(wanted | answered):
        if wanted[number] != answered[number]:
            yield f"input {number} is asked for {wanted[number]} times and answered {answered[number]} times"
    for row in plan.inputs:
        if not row.why or not all(text.strip() for text in row.why):
            yield f"input {row.number} does not say why"
    for left in plan.unfilled:
        if not left.reason.strip():
            yield f"unfilled input {left.number} does not say the reason"


def _records_agree(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for row in plan.inputs:
        need = _need_of(snapshot, row)
        if need is None:
            yield f"input {row.number} ({row.label}) was not asked for"
            continue
        if row.pickup is not need.pickup:
            yield f"input {row.number} wants {need.pickup} and has {row.pickup}"
        if (row.stand or "none") != (need.stand or "none") and not _stands_in(snapshot, need, row):
            yield f"input {row.number} wants stand {need.stand} and has {row.stand}"


def _stands_in(snapshot: Snapshot, need: Need, row: PlannedInput) -> bool:
    """Another kind of stand, for a unit that the wanted one is known not to carry: it carries it and reaches as far."""
    unit, figures = _unit_of(snapshot, row), snapshot.stand_figures
    wanted, has = figures.get(need.stand or ""), figures.get(row.stand or "")
    if unit is None or unit.weight_kg is None or wanted is None or has is None:
        return False
    if wanted.load_kg is None or unit.weight_kg <= wanted.load_kg or has.load_kg is None:
        return False
    return unit.weight_kg <= has.load_kg + 1e-6 and (has.reach_m or 0) >= (wanted.reach_m or 0)


def _weights(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for row, _, unit in _rows_with_units(snapshot, plan):
        figures = snapshot.stand_figures.get(row.stand or "")
        most = figures.load_kg if figures else None
        if most is not None and unit.weight_kg is not None and unit.weight_kg > most + 1e-6:
            yield f"input {row.number}: {unit.tag} weighs {unit.weight_kg:g} kg, {row.stand} carries {most:g} kg"


def _cables(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    kinds = {cable.name: cable for cable in snapshot.cables or ()}
    for row in plan.inputs:
        need = _need_of(snapshot, row)
        counted = snapshot.cables is not None and row.pickup is not Pickup.LINE
        if not counted or row.cable not in kinds:
            if counted or row.cable is not None:
                yield f"input {row.number} has cable {row.cable}, which the house doesn't count for it"
            continue
        length = kinds[row.cable or ""].length_m or 0
        if need and need.cable_m is not None and length < need.cable_m:
            yield f"input {row.number} needs {need.cable_m:g} m of cable and has {row.cable}"
    for name, number in Counter(row.cable for row in plan.inputs if row.cable in kinds).items():
        if number > kinds[name or ""].count:
            yield f"{number} of cable {name} are used and {kinds[name or ''].count} are free"


def _outlets(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    plugs = {unit.tag for _, _, unit in _rows_with_units(snapshot, plan) if unit.own_supply}
    if snapshot.mains_outlets is not None and len(plugs) > snapshot.mains_outlets:
        yield f"{len(plugs)} supplies want a mains outlet and the room has {snapshot.mains_outlets}"


def _patch_points(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    far = {preamp.tag for preamp in snapshot.preamps if not preamp.here}
    for row in plan.inputs:
        if row.patched != (row.preamp in far):
            yield f"input {row.number} says patched {row.patched}, which its preamp contradicts"
    patched = sum(row.preamp in far for row in plan.inputs)
    if snapshot.patch_points is not None and patched > snapshot.patch_points:
        yield f"{patched} inputs go through a patch point and the room has {snapshot.patch_points}"


def _units(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for row in plan.inputs:
        unit = _unit_of(snapshot, row)
        if row.pickup is Pickup.LINE:
            if row.unit is not None:
                yield f"input {row.number} is line level and has unit {row.unit}"
        elif row.unit is None:
            yield f"input {row.number} has no unit"
        elif unit is None:
            yield f"input {row.number} has unit {row.unit}, which is not in the house"
    for row, need, unit in _rows_with_units(snapshot, plan):
        if unit.pickup is not need.pickup:
            yield f"input {row.number} wants {need.pickup} and {unit.tag} is {unit.pickup}"
        if need.pickup is Pickup.MIC and unit.kind not in need.kinds:
            yield f"input {row.number} has {unit.tag}, a {unit.kind}, which is not listed for it"
        if row.unit_input is None or not 1 <= row.unit_input <= unit.inputs:
            yield f"input {row.number} is on input {row.unit_input} of {unit.tag}, which has {unit.inputs}"
    used = Counter((row.unit, row.unit_input) for row in plan.inputs if row.unit is not None)
    yield from (f"input {i} of {tag} is used {n} times" for (tag, i), n in used.items() if n > 1)


def _levels_and_wishes(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for row, need, unit in _rows_with_units(snapshot, plan):
        if need.peak_spl_db is not None and unit.max_spl_db is not None:
            takes = unit.max_spl_db + (max(0.0, unit.pad_db) if row.pad else 0.0)
            if need.peak_spl_db > takes:
                yield f"input {row.number} peaks at {need.peak_spl_db} dB, {unit.tag} as set takes {takes} dB"
        if unit.only_patterns and need.patterns and not any(p in need.patterns for p in unit.only_patterns):
            yield f"input {row.number} wants {need.patterns[0]}, {unit.tag} can only take {unit.only_patterns[0]}"
        if row.pad and unit.pad_db <= 0:
            yield f"input {row.number} has a pad on, and {unit.tag} has none"
        text = f"{unit.kind} {unit.model}".casefold()
        missed = [word for word in need.wish.casefold().split() if not _begins_a_word(text, word)]
        if need.wish_binds and missed:
            yield f"input {row.number} must have {need.wish} and has {unit.tag} ({unit.kind}, {unit.model})"


def _begins_a_word(text: str, start: str) -> bool:
    places = (i for i in range(len(text)) if text.startswith(start, i))
    return any(i == 0 or not text[i - 1].isalnum() for i in places)


def _stands(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    used = Counter(row.stand for row in plan.inputs if row.stand and row.stand != "none")
    for kind, number in used.items():
        free = snapshot.stands.get(kind, 0)
        if number > free:
            yield f"{number} of stand {kind} are used and {free} are free"


def _lines_and_recorder_inputs(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for noun, numbers, most in (
        ("line", [row.line for row in plan.inputs], snapshot.lines),
        ("recorder input", [row.recorder_input for row in plan.inputs], snapshot.recorder_inputs),
    ):
        yield from (f"{noun} {n} does not exist: there are {most}" for n in numbers if not 1 <= n <= most)
        yield from (f"{noun} {n} is used {times} times" for n, times in Counter(numbers).items() if times > 1)


def _channels(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    exists = {(p.tag, c.number) for p in snapshot.preamps for c in p.channels}
    for row in plan.inputs:
        here = (row.preamp, row.channel)
        if row.pickup is Pickup.LINE:
            if here != (None, None):
                yield f"input {row.number} is line level and has a preamp channel"
        elif here not in exists:
            yield f"input {row.number} is on {row.preamp} channel {row.channel}, which can't be used"
    used = Counter((row.preamp, row.channel) for row in plan.inputs if row.preamp is not None)
    yield from (f"{tag} channel {number} is used {n} times" for (tag, number), n in used.items() if n > 1)


def _gain(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    """94 dB SPL is one pascal, for which the unit's figure holds; each dB more of level asks for one less of gain.

    What the unit's pad takes away is asked for again. With a pad of its own a preamp gives less than its least.
    """
    channels = {(p.tag, c.number): (p, c) for p in snapshot.preamps for c in p.channels}
    for row, need, unit in _rows_with_units(snapshot, plan):
        peaks = [each.peak_spl_db for each in _set_alike(snapshot, need)]
        if (row.preamp, row.channel) not in channels or unit.gain_at_94_db is None or None in peaks:
            continue
        preamp, channel = channels[row.preamp or "", row.channel or 0]
        gain = max(unit.gain_at_94_db - (peak - 94) for peak in peaks if peak is not None)
        gain += unit.pad_db if row.pad else 0
        asks = f"input {row.number} asks for {gain:g} dB of gain, its channel"
        if channel.noisy_above_db is not None and gain > channel.noisy_above_db + 1e-6:
            yield f"{asks} is noisy above {channel.noisy_above_db:g} dB"
        if preamp.most_gain_db is not None and gain > preamp.most_gain_db + 1e-6:
            yield f"{asks} gives {preamp.most_gain_db:g} dB at most"
        least = None if preamp.least_gain_db is None else preamp.least_gain_db - max(0.0, preamp.pad_db)
        if least is not None and gain < least - 1e-6:
            yield f"{asks} gives {least:g} dB at least"


def _set_alike(snapshot: Snapshot, need: Need) -> list[Need]:
    """The input, and the other half of its pair."""
    if need.pair is None or need.pickup is Pickup.LINE:
        return [need]
    halves = [n for n in snapshot.needs if n.pair == need.pair and n.pickup is not Pickup.LINE]
    halves = sorted(halves, key=lambda half: half.number)[:2]
    both = len(halves) == 2 and halves[0].pickup is halves[1].pickup and need in halves
    return halves if both else [need]


def _bank(switching: Switching, bank_size: int, channel: int) -> int:
    """Counted off by hand: banks of bank_size channels from channel 1 on."""
    if switching is Switching.PER_CHANNEL:
        return channel
    if switching is not Switching.PER_BANK:
        return 1
    bank, last = 1, max(1, bank_size)
    while channel > last:
        bank, last = bank + 1, last + max(1, bank_size)
    return bank


def _live(snapshot: Snapshot, plan: Plan, row: PlannedInput) -> tuple[bool, bool]:
    """(the switch of the row's channel is on, phantom power arrives at the row's unit)."""
    for preamp in snapshot.preamps:
        for channel in preamp.channels:
            if (preamp.tag, channel.number) == (row.preamp, row.channel):
                if preamp.switching is Switching.NONE:
                    return False, False
                bank = _bank(preamp.switching, preamp.bank_size, channel.number)
                on = preamp.switching is Switching.ALWAYS_ON or (preamp.tag, bank) in plan.phantom_on
                return on, on and channel.phantom_works
    return False, False


def _switches(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    exist = {
        (preamp.tag, _bank(preamp.switching, preamp.bank_size, channel.number))
        for preamp in snapshot.preamps
        for channel in preamp.channels
        if preamp.switching is not Switching.NONE
    }
    yield from (f"{tag} has no phantom switch {bank}" for tag, bank in sorted(plan.phantom_on - exist))


def _phantom(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for row in plan.inputs:
        if row.phantom != _live(snapshot, plan, row)[1]:
            yield f"input {row.number} says phantom {row.phantom}, which its channel contradicts"
    for row, _, unit in _rows_with_units(snapshot, plan):
        on, arrives = _live(snapshot, plan, row)
        if unit.phantom in (Phantom.MUST_NOT, Phantom.UNKNOWN) and on:
            yield f"input {row.number}: {unit.tag} ({unit.phantom}) is on a channel that is switched on"
        if unit.phantom is Phantom.NEEDS and not unit.own_supply and not arrives:
            yield f"input {row.number}: {unit.tag} needs phantom and gets none"


def _current(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    for preamp in snapshot.preamps:
        if preamp.phantom_supply_ma is None:
            continue
        drawn = sum(
            unit.current_ma or 0.0
            for row, _, unit in _rows_with_units(snapshot, plan)
            if row.preamp == preamp.tag and not unit.own_supply and _live(snapshot, plan, row)[1]
        )
        if drawn > max(0.0, preamp.phantom_supply_ma) + 1e-6:
            yield f"{preamp.tag} gives {preamp.phantom_supply_ma} mA of phantom and {drawn:g} mA are drawn"


def _report(snapshot: Snapshot, plan: Plan) -> Iterator[str]:
    if plan.solver.status not in ("proven", "best found", "nothing to plan"):
        yield f"the solver's status is {plan.solver.status!r}"
    if plan.solver.bound > plan.solver.objective + 1e-6:
        yield f"the bound {plan.solver.bound} is above the objective {plan.solver.objective}"
    if plan.solver.status == "proven" and plan.solver.bound < plan.solver.objective - 1e-6:
        yield "the plan is called proven and its bound is below its objective"
