"""Plans an instrument list for a room and a time, and saves nothing."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.clock import say_span, twice_or_never
from studio.models import Room
from studio.spans import Span
from tasks.checklists.rules import checklist
from tasks.checklists.sheet import Line
from tasks.make_checklist import sheet_of
from tasks.management.commands.read_instruments import list_text
from tasks.models import Plan
from tasks.plan_session import rows_of
from tasks.planning.snapshot import Plan as PlanRecord
from tasks.snapshots import look
from tasks.solving import MOST_INPUTS, checked_plan, with_too_many
from tasks.wanted import needs_of


class Command(BaseCommand):
    help = "Plan an instrument list for a room and a time. Nothing is saved."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", default="-", help="the list; - or nothing for standard input")
        parser.add_argument("--room", required=True, help="the room's name")
        parser.add_argument(
            "--start", required=True, help="downbeat on the room's clock, like 2027-03-02T10:00"
        )
        parser.add_argument("--hours", type=float, required=True, help="hours from downbeat to end")
        parser.add_argument("--json", action="store_true", help="print JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        room = _room(options["room"])
        span = _span(room, options["start"], options["hours"])
        wanted = needs_of(list_text(options["file"]))
        looked = look(room, span, wanted[:MOST_INPUTS])
        made = with_too_many(checked_plan(looked.snapshot), wanted[MOST_INPUTS:])
        lines = checklist(sheet_of(room.name, *rows_of(Plan(), looked, made)))
        if options["json"]:
            self.stdout.write(json.dumps(_as_json(made, lines), ensure_ascii=False, indent=1))
        else:
            self.stdout.write(f"{room.name}, {say_span(span, room.site.tz)} with setup and turnaround")
            self.stdout.write("\n".join(_as_text(made, lines)))


def _room(name: str) -> Room:
    rooms = list(Room.objects.select_related("site").filter(name__iexact=name))
    if len(rooms) == 1:
        return rooms[0]
    known = ", ".join(Room.objects.values_list("name", flat=True)) or "none yet"
    what = "Several rooms are" if rooms else "No room is"
    raise CommandError(f"{what} called “{name}”. The rooms are: {known}.")


def _span(room: Room, start: str, hours: float) -> Span:
    """With the room's setup before and turnaround after."""
    try:
        wall = datetime.fromisoformat(start)
    except ValueError:
        raise CommandError(f"“{start}” is not a time. Write it like 2027-03-02T10:00.") from None
    if not 2000 <= wall.year <= 2199:
        raise CommandError(f"Check the year: {wall.year} is too far away.")
    if not 0 < hours <= 400:
        raise CommandError("--hours has to be more than 0 and at most 400.")
    if wall.tzinfo is None:
        if odd := twice_or_never(wall, room.site.tz):
            where = f"the clock of {room.site} that night"
            what = "never comes" if odd == "never" else "comes twice"
            raise CommandError(f"{start} {what} on {where}. Add the offset, like {start}+01:00.")
        wall = wall.replace(tzinfo=room.site.tz)
    downbeat = wall.astimezone(UTC)
    before, after = timedelta(minutes=room.setup_minutes), timedelta(minutes=room.turnaround_minutes)
    return Span(downbeat - before, downbeat + timedelta(hours=hours) + after)


def _as_json(made: PlanRecord, lines: tuple[Line, ...]) -> dict[str, Any]:
    return {
        "inputs": [asdict(each) for each in made.inputs],
        "unfilled": [asdict(each) for each in made.unfilled],
        "tasks": [
            {"order": order, **{k: v for k, v in asdict(line).items() if k != "key"}}
            for order, line in enumerate(lines, start=1)
        ],
        "solver": asdict(made.solver),
    }


def _as_text(made: PlanRecord, lines: tuple[Line, ...]) -> list[str]:
    out = []
    for each in made.inputs:
        preamp = f"{each.preamp} {each.channel}" if each.preamp else "line level"
        switches = [f"phantom {'on' if each.phantom else 'off'}", *["pad in"] * each.pad]
        out.append(
            f"{each.number:>3} {each.label:<24} {each.unit or 'line out':<12} {each.stand or '':<11} "
            f"line {each.line:<3} {preamp:<14} {', '.join(switches)}, recorder {each.recorder_input}"
        )
        out += [f"      {reason}" for reason in each.why]
    for need in made.unfilled:
        out.append(f"{need.number:>3} {need.label}: OPEN. {need.reason}")
        out += [f"      would help: {what}" for what in need.help]
    solver = made.solver
    out.append(f"{solver.status}: cost {solver.objective:g}, bound {solver.bound:g}, {solver.seconds:.3f} s")
    out.append(f"{len(lines)} tasks, {sum(line.minutes for line in lines)} minutes:")
    out += [f"  {line.stage:<10} {line.minutes:>3} min  {line.title}" for line in lines]
    return out
