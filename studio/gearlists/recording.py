"""The page's use case: what a person confirmed of a list is taken in, its faults reported, its log recorded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, time

from django.db import transaction
from django.utils import timezone

from studio.access import Act, require
from studio.faults import mend, report_fault, send_away, start_bench, wait_for_parts
from studio.gearlists.matching import Known
from studio.gearlists.taking_in import Plan, plan, remembered, store, usual_site
from studio.importing.desk import Said
from studio.importing.events import OVER, Event
from studio.importing.heading_words import normal
from studio.importing.reading import Reading, read_gear
from studio.importing.remarks import State
from studio.importing.table import Finding
from studio.models import Channel, Fault, GearList, GearUnit, HeadingMatch, Person
from studio.old_faults import keep_old_fault
from studio.signals import house_changed

LONGEST_WORDS = 300
LONGEST_OUTCOME = 200
SEVERITY = {
    State.LIMITED: Fault.Severity.LIMITED,
    State.SUSPECTED: Fault.Severity.SUSPECTED,
    State.REMARK: Fault.Severity.SUSPECTED,
}
SEVERITY_OF_EVENT = {"accepted": Fault.Severity.LIMITED}
NOON = time(12)
SAYING_YES = {"report", "record"}


def bring_list(by: Person, name: str, content: bytes) -> GearList:
    """Keeps the file until it is taken in; nothing else changes. Raises PermissionDenied."""
    require(by, Act.KEEP_GEAR)
    return GearList.objects.create(name=name[:200], content=content, brought_by=by)


def read_list(brought: GearList) -> Reading:
    chosen = {int(index): field for index, field in brought.columns.items()}
    year = timezone.localtime(brought.brought_at).year
    return read_gear(bytes(brought.content), year, remembered(), chosen, brought.answers)


def plan_list(by: Person, brought: GearList) -> Plan:
    return plan(read_list(brought), Known.read(usual_site(by)))


def confirm_headings(by: Person, brought: GearList, fields: Mapping[int, str]) -> None:
    """fields: column index to field. A heading that is named is remembered for every list to come."""
    require(by, Act.KEEP_GEAR)
    layout = read_list(brought).layout
    with transaction.atomic():
        brought.columns = {str(index): field for index, field in fields.items()}
        brought.save(update_fields=["columns"])
        for column in layout.columns:
            if column.index in fields and column.named and normal(column.heading):
                HeadingMatch.objects.update_or_create(
                    heading=normal(column.heading)[:120],
                    sort=layout.sort,
                    defaults={"field": fields[column.index], "confirmed_by": by},
                )


def answer_questions(by: Person, brought: GearList, answers: Mapping[str, str]) -> None:
    """Adds to the answers given so far."""
    require(by, Act.KEEP_GEAR)
    brought.answers = {**brought.answers, **answers}
    brought.save(update_fields=["answers"])


def open_faults(made: Plan) -> list[Finding]:
    """Questions about faults, or events of a log, that name their unit: a yes is all that they want."""
    return [
        question
        for question in made.reading.questions
        if question.key and SAYING_YES & {value for value, _ in question.options}
    ]


def answer_all_faults(by: Person, brought: GearList) -> int:
    """Says yes to each of them. Counts them; several pieces of which one is meant are still asked about."""
    asked = open_faults(plan_list(by, brought))
    yes = {q.key: next(value for value, _ in q.options if value in SAYING_YES) for q in asked}
    answer_questions(by, brought, yes)
    return len(yes)


def forget_answers(by: Person, brought: GearList) -> None:
    require(by, Act.KEEP_GEAR)
    brought.answers = {}
    brought.save(update_fields=["answers"])


def take_in(by: Person, brought: GearList, good_rows: bool = False) -> GearList:
    """All of it in one transaction, once: pressing twice takes it in once. Raises ListRefused."""
    require(by, Act.KEEP_GEAR)
    with transaction.atomic():
        brought = GearList.objects.select_for_update().get(pk=brought.pk)
        if brought.applied_at:
            return brought
        made = store(read_list(brought), usual_site(by), good_rows)
        faults = report_faults(by, made, brought.answers)
        events = record_events(by, made.reading, brought.answers)
        said = [f"{made.reading.units} units and counted pieces: {made.says}"]
        said += [f"{faults} faults reported"] if faults else []
        said += [f"{events} events of the log recorded"] if events else []
        brought.applied_at, brought.outcome = timezone.now(), "; ".join(said) + "."
        brought.save(update_fields=["applied_at", "outcome"])
    return brought


def report_faults(by: Person, made: Plan, answers: Mapping[str, str]) -> int:
    """Reports what was confirmed, each on its unit and channel. Counts the faults."""
    units = {(piece.thing.row, piece.index): piece.unit for piece in made.pieces}
    count = 0
    for thing in made.reading.things:
        for said in thing.faults:
            for index in confirmed(said, answers):
                if unit := units.get((thing.row, index)):
                    count += _report(by, unit, said)
    return count


def confirmed(said: Said, answers: Mapping[str, str]) -> tuple[int, ...]:
    answer = answers.get(said.key, "")
    return said.of if answer == "report" else (int(answer),) if answer.isdigit() else ()


def _report(by: Person, unit: GearUnit, said: Said) -> int:
    remark = said.remark
    words = remark.words[:LONGEST_WORDS]
    effect = remark.effect if remark.effect in Fault.Effect.values else Fault.Effect.OTHER
    severity = SEVERITY.get(remark.state, Fault.Severity.OUT)
    channels = _channels(unit, remark.channels)
    for channel in channels:
        fault = report_fault(by, unit, channel, effect, severity, words, above_gain_db=remark.above_gain_db)
        if said.on_bench:
            start_bench(by, fault)
        elif remark.state is State.AWAY and remark.effect != "lent":
            send_away(by, fault)
    return len(channels)


def _channels(unit: GearUnit, numbers: tuple[int, ...]) -> list[Channel | None]:
    """Those of the unit's channels; None, the whole unit, where it has none of them."""
    return [*unit.channels.filter(number__in=numbers)] or [None]


def unit_key(name: str) -> str:
    """The key under which it is answered which unit a log means by a name."""
    return f"unit: {normal(name)}"


def record_events(by: Person, reading: Reading, answers: Mapping[str, str]) -> int:
    """What was confirmed of a log, oldest row first, on the units that were named. Counts the events."""
    count = 0
    for event in reading.events:
        tag = answers.get(unit_key(event.unit), "")
        unit = GearUnit.objects.filter(tag__iexact=tag).first() if tag else None
        if unit is not None and answers.get(event.key) == "record":
            _record(by, unit, event)
            count += 1
    return count


def _record(by: Person, unit: GearUnit, event: Event) -> None:
    if event.state == "note":
        unit.remark = "; ".join(
            filter(None, [unit.remark, f"{event.seen} {event.fault} {event.done}".strip()])
        )[:1000]
        unit.save(update_fields=["remark"])
        return
    seen, closed = (_noon(day, unit) for day in (event.seen, event.closed))
    for channel in _channels(unit, event.channels):
        words = "; ".join(filter(None, [event.fault, event.part if channel is None else ""]))[:LONGEST_WORDS]
        same = Fault.objects.filter(unit=unit, channel=channel, words=words).order_by("-pk").first()
        if same and same.closed_at and same.since == (seen or same.since):
            continue
        fault = same if same and not same.closed_at else None
        if event.state in OVER and fault is None:
            since, until = seen or closed or timezone.now(), closed or seen or timezone.now()
            keep_old_fault(by, unit, channel, event.effect, words, since, until, _outcome(event))
        else:
            _bring_up_to(by, fault or _first_report(by, unit, channel, event, words, seen), event)
    if event.state == "retired" and not unit.retired:
        unit.retired, unit.retired_at = True, closed
        unit.save(update_fields=["retired"])
        house_changed.send(GearUnit, thing=unit)


def _first_report(
    by: Person, unit: GearUnit, channel: Channel | None, event: Event, words: str, seen: datetime | None
) -> Fault:
    severity = SEVERITY_OF_EVENT.get(event.state)
    return report_fault(
        by, unit, channel, event.effect, severity, words, seen, above_gain_db=event.above_gain_db
    )


def _bring_up_to(by: Person, fault: Fault, event: Event) -> None:
    """To where the log says that it stands; what stands there already is left."""
    if event.state == "away" and fault.step != Fault.Step.AWAY:
        send_away(by, fault)
    if event.state == "waiting" and fault.step != Fault.Step.PARTS:
        wait_for_parts(by, fault, event.remark[:LONGEST_OUTCOME])
    if event.state == "back" and fault.step != Fault.Step.UNHEARD:
        mend(by, fault, _outcome(event))
    if event.state in OVER:
        mend(by, fault, _outcome(event), heard=True)


def _outcome(event: Event) -> str:
    return (event.done or event.remark or event.state)[:LONGEST_OUTCOME]


def _noon(day: str, unit: GearUnit) -> datetime | None:
    """A day of the log is noon on the site's clock; a month or a year alone is no day."""
    if len(day) != len("2021-04-03"):
        return None
    when = datetime.combine(date.fromisoformat(day), NOON, unit.site.tz)
    return when if when <= timezone.now() else None


def names_in(reading: Reading) -> Iterator[str]:
    """The units that a log names, each once."""
    yield from dict.fromkeys(event.unit for event in reading.events)
