"""The checklist's rows: made from the plan, kept across plans where the work is the same."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from django.db.models import Max

from bookings.models import Session
from studio.models import PreampSpec, Role
from tasks.catalogue import Source, load_catalogue
from tasks.catalogue.arrays import pair_in_words
from tasks.checklists.rules import checklist
from tasks.checklists.sheet import Line, Sheet, SheetInput, SheetInsert, numbers_in_words
from tasks.errands import with_errands
from tasks.mains import mains_of
from tasks.models import PlannedInput, Task, UnfilledNeed
from tasks.planning.snapshot import Phantom
from tasks.recalling.lines import with_restores

FILLED = ["stage", "title", "details", "minutes", "caution", "problem"]
NO_LONGER = "No longer in the plan. If it was set up, put it back."


def make_checklist(session: Session, sheet: Sheet, inputs: Sequence[PlannedInput]) -> None:
    """Bring the session's tasks in line with the plan. A tick stays with work that stays the same;
    ticked work that is no longer wanted stays on the list and says so.
    """
    rows = {each.number: each for each in inputs}
    sheet = replace(sheet, mains=mains_of(session))
    lines = with_errands(session, with_restores(session, checklist(sheet)), inputs)
    standing = {task.key: task for task in session.tasks.all()}
    assistants = [c.person_id for c in session.crew.all() if c.role == Role.ASSISTANT]
    new: list[Task] = []
    kept: list[Task] = []
    changed: list[Task] = []  # of those that are kept; the input is another row after each plan
    for order, (line, assignee) in enumerate(zip(lines, _shares(lines, assistants), strict=True), start=1):
        task = standing.pop(line.key, None)
        (kept if task else new).append(task := task or Task(session=session, key=line.key))
        was = _said(task)
        _fill(task, line, order)
        task.assignee_id = assignee
        if task.pk and was != _said(task):
            changed.append(task)
        task.input = rows.get(line.input_number) if line.input_number else None
    Task.objects.bulk_create(new)
    Task.objects.bulk_update(changed, [*FILLED, "order", "assignee"])
    Task.objects.bulk_update(kept, ["input"])
    _leave_over(session, list(standing.values()))


def _said(task: Task) -> tuple[object, ...]:
    return (*(getattr(task, name) for name in FILLED), task.order, task.assignee_id)


def _fill(task: Task, line: Line, order: int) -> None:
    task.stage, task.title, task.minutes = line.stage.value, line.title[:160], line.minutes
    task.details, task.caution = [list(pair) for pair in line.details], line.caution
    task.order = order
    if task.problem == NO_LONGER:
        task.problem = ""


def _leave_over(session: Session, tasks: list[Task]) -> None:
    """Undone work that fell away is dropped; done work stays, last, as something to put back."""
    session.tasks.filter(pk__in=[task.pk for task in tasks if task.done_at is None]).delete()
    done = [task for task in tasks if task.done_at is not None]
    last = session.tasks.aggregate(last=Max("order"))["last"] or 0
    for order, task in enumerate(done, start=last + 1):
        task.order, task.problem, task.input = order, NO_LONGER, None
    Task.objects.bulk_update(done, ["order", "problem", "input"])


def _shares(lines: tuple[Line, ...], assistants: list[int]) -> list[int | None]:
    """Who does each line: whoever has the fewest minutes so far in that stage."""
    minutes: dict[tuple[str, int], int] = {}
    out: list[int | None] = []
    for line in lines:
        if not assistants:
            out.append(None)
            continue
        who = min(assistants, key=lambda pk: minutes.get((line.stage, pk), 0))
        minutes[line.stage, who] = minutes.get((line.stage, who), 0) + line.minutes
        out.append(who)
    return out


def sheet_of(
    room: str,
    inputs: Sequence[PlannedInput],
    unfilled: Sequence[UnfilledNeed],
    inserts: Mapping[int, tuple[SheetInsert, ...]] | None = None,
) -> Sheet:
    """The plan in the words of the floor. The inputs come with their units and specs, inserts by their numbers."""
    open_needs = tuple(f"{need.label}: {need.reason}" for need in unfilled)
    found = inserts or {}
    rows = (replace(_sheet_input(each), inserts=found.get(each.number, ())) for each in inputs)
    return Sheet(room, tuple(rows), open_needs)


def _sheet_input(row: PlannedInput) -> SheetInput:
    source = load_catalogue().by_name.get(row.source)
    unit, channel = row.unit, row.preamp_channel
    figures = None
    if unit:
        model = unit.gear_model
        figures = model.microphone if row.pickup == PlannedInput.Pickup.MIC else model.direct_box
    wants = (unit.phantom or figures.phantom) if unit and figures else ""
    preamp = channel.unit.gear_model.preamp if channel else None
    return SheetInput(
        number=row.number,
        label=row.label,
        pickup=row.pickup,
        unit=unit.tag if unit else "",
        unit_kind=getattr(figures, "transducer", "DI box"),
        fetch=unit.where if unit else "",
        stand="" if row.stand == "none" else row.stand,
        line=row.line,
        preamp=channel.unit.tag if channel else "",
        channel=channel.number if channel else 0,
        recorder_input=row.recorder_input,
        phantom=row.phantom,
        never_phantom=wants in (Phantom.MUST_NOT, Phantom.UNKNOWN),
        own_supply=getattr(figures, "own_supply", False),
        pad=row.pad,
        reach=_reach(preamp, channel.number, channel.unit.gear_model.channels) if preamp and channel else "",
        drain_seconds=preamp.drain_seconds if preamp else 0,
        position=source.position if source and row.pickup == PlannedInput.Pickup.MIC else "",
        distance_cm=source.distance_cm if source else None,
        high_pass_hz=row.high_pass_hz,
        gain_db=row.gain_db,
        cautions=source.cautions if source else (),
        cable=row.cable,
        patched=row.patched,
        pair=_pair(row, source, figures),
    )


def _pair(row: PlannedInput, source: Source | None, figures: object) -> str:
    """How the pair that an input begins stands, in words an assistant can set up."""
    if source is None or row.pickup != PlannedInput.Pickup.MIC:
        return ""
    kind = str(getattr(figures, "transducer", "")) or source.kinds[0]
    said = pair_in_words(load_catalogue().arrays, source.id, row.label, kind)
    return said[0] if said else ""


def _reach(preamp: PreampSpec, channel: int, channels: int) -> str:
    """Which switch feeds the channel, in words."""
    match preamp.switching:
        case PreampSpec.Switching.PER_CHANNEL:
            return f"channel {channel}"
        case PreampSpec.Switching.PER_BANK:
            first = (channel - 1) // preamp.bank_size * preamp.bank_size + 1
            bank = numbers_in_words(range(first, min(first + preamp.bank_size, channels + 1)))
            return f"channels {bank} on one switch"
        case PreampSpec.Switching.WHOLE_UNIT:
            return "the whole unit on one switch"
        case PreampSpec.Switching.ALWAYS_ON:
            return "always on"
        case _:
            return "no phantom here"
