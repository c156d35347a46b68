"""From a session's plan to the rows of its papers, and who has seen them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from bookings.models import Session
from studio.models import Person
from tasks.models import PapersSeen, Plan, PlannedInput, PlannedInsert
from tasks.papers.sheets import Row, RowInsert, Sheet, differences, input_list

Differ = Callable[[Sequence[Sequence[str]], Sequence[Sequence[str]]], Iterable[str]]


def rows_of(session: Session) -> list[Row]:
    """Empty for a session without a plan. Constant in queries, however long the list."""
    plan = Plan.objects.filter(session=session).first()
    if plan is None:
        return []
    here = {room.pk for room in session.room.with_parts()}
    return [_row(each, here) for each in plan.inputs.select_related(*_JOINS).prefetch_related(*_INSERTS)]


_JOINS = (
    *("unit__gear_model", "unit__home_room", "unit__site"),
    *("preamp_channel__unit__home_room", "preamp_channel__unit__site"),
)
_INSERTS = ("inserts__unit__home_room", "inserts__unit__site", "inserts__channel")


def _row(each: PlannedInput, here: set[int]) -> Row:
    channel = each.preamp_channel
    rack = channel.unit if channel else None
    return Row(
        number=each.number,
        label=each.label,
        pickup=each.pickup,
        unit=each.unit.tag if each.unit else "",
        unit_model=str(each.unit.gear_model) if each.unit else "",
        unit_place=each.unit.where if each.unit else "",
        unit_input=each.unit_input,
        stand=each.stand,
        cable=each.cable,
        line=each.line,
        preamp=rack.tag if rack else "",
        preamp_channel=channel.number if channel else None,
        preamp_place=rack.where if rack and rack.home_room_id not in here else "",
        phantom=each.phantom,
        pad=each.pad,
        recorder_input=each.recorder_input,
        gain_db=each.gain_db,
        high_pass_hz=each.high_pass_hz,
        inserts=tuple(_insert(insert, here) for insert in each.inserts.all()),
    )


def _insert(each: PlannedInsert, here: set[int]) -> RowInsert:
    unit = each.unit
    return RowInsert(
        place=each.place,
        name=each.name,
        unit=unit.tag if unit else "",
        channel=each.channel.number if each.channel else None,
        kept=unit.where if unit and unit.home_room_id not in here else "",
        settings=tuple((what, to) for what, to in each.settings),
        says=each.says if unit else " ".join(each.why),
    )


@dataclass(frozen=True, slots=True)
class News:
    """What is other than when the reader last looked; since is None for the first look."""

    since: datetime | None
    changes: list[str]


def look_at(session: Session, reader: Person, rows: list[Row]) -> News:
    """What has changed in the input list for this reader, who has seen it by this. Two queries."""
    return look_at_sheet(session, reader, input_list(rows), differences)


def look_at_sheet(session: Session, reader: Person, sheet: Sheet, differ: Differ) -> News:
    """The same for any paper; differ says what is other than before. Two queries."""
    now = [list(row) for row in sheet.rows]
    seen = PapersSeen.objects.filter(session=session, person=reader, paper=sheet.name).first()
    PapersSeen.objects.update_or_create(
        session=session, person=reader, paper=sheet.name, defaults={"at": timezone.now(), "rows": now}
    )
    return News(seen.at if seen else None, list(differ(seen.rows, now)) if seen else [])


@dataclass(frozen=True, slots=True)
class Reader:
    """One person on the session: when they last saw its input list, and whether it is still the same."""

    person: Person
    at: datetime | None
    up_to_date: bool


def readers(session: Session, rows: list[Row]) -> list[Reader]:
    """Everybody who is called for the session, and what they know of its input list. Two queries."""
    return readers_of(session, input_list(rows))


def readers_of(session: Session, sheet: Sheet) -> list[Reader]:
    """The same for any paper. Two queries."""
    now = [list(row) for row in sheet.rows]
    of_paper = PapersSeen.objects.filter(session=session, paper=sheet.name)
    seen = {each.person_id: each for each in of_paper}
    people = Person.objects.filter(calls__session=session).order_by("name", "pk").distinct()
    return [_reader(person, seen.get(person.pk), now) for person in people]


def _reader(person: Person, seen: PapersSeen | None, now: list[list[str]]) -> Reader:
    return Reader(person, seen.at, seen.rows == now) if seen else Reader(person, None, False)
