"""An assistant's day: which sessions, what is done, what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from django.db.models import Prefetch
from django.utils import timezone

from bookings.models import Crew, Session
from studio.clock import day_span
from studio.models import Person
from tasks.models import Task


@dataclass(frozen=True, slots=True)
class Worklist:
    """One session's tasks as one person sees them: the next one whole, the rest in short."""

    session: Session
    person: Person
    now: datetime
    tasks: list[Task]
    calls: list[Crew]

    @property
    def mine(self) -> list[Task]:
        """My tasks; everybody's when none has been given to me."""
        return [task for task in self.tasks if task.assignee_id == self.person.pk] or self.tasks

    @property
    def call(self) -> Crew | None:
        return next((call for call in self.calls if call.person_id == self.person.pk), None)

    @property
    def due(self) -> list[Task]:
        """What is to be done before the downbeat; once all of that is done, the breakdown."""
        before = [task for task in self.mine if task.stage != Task.Stage.BREAKDOWN]
        return before if any(task.done_at is None for task in before) else self.mine

    @property
    def next(self) -> Task | None:
        waiting = [task for task in self.due if task.done_at is None]
        return next((task for task in waiting if not task.problem), waiting[0] if waiting else None)

    @property
    def stage_now(self) -> str:
        """The stage that stands open on the phone: the next task's, else the last one's."""
        task = self.next or (self.tasks[-1] if self.tasks else None)
        return task.get_stage_display() if task else ""

    @property
    def rest(self) -> list[Task]:
        return [task for task in self.tasks if task != self.next]

    @property
    def done(self) -> int:
        return sum(task.done_at is not None for task in self.tasks)

    @property
    def percent(self) -> int:
        return round(100 * self.done / len(self.tasks)) if self.tasks else 0

    @property
    def minutes_left(self) -> int:
        return sum(task.minutes for task in self.due if task.done_at is None)

    @property
    def minutes_to_downbeat(self) -> int:
        return int((self.session.downbeat - self.now).total_seconds() // 60)

    @property
    def tight(self) -> bool:
        """Less time than work before the downbeat."""
        return 0 <= self.minutes_to_downbeat < self.minutes_left

    @property
    def mark(self) -> str:
        """Changes when anything on the page does; a phone that knows it is sent nothing."""
        state = [(t.pk, t.done_at, t.problem, t.title, t.assignee_id) for t in self.tasks]
        return sha256(repr((state, self.session.version)).encode()).hexdigest()[:16]


def worklist(session: Session, person: Person) -> Worklist:
    tasks = session.tasks.select_related("assignee", "done_by", "input").order_by("order", "pk")
    return Worklist(session, person, timezone.now(), list(tasks), list(session.crew.all()))


def sessions_of(person: Person, now: datetime) -> list[Session]:
    """Sessions for which I am called whose day is today on their site's clock, or that are under way.

    A session belongs to the day of its downbeat: after midnight it is still last evening's.
    """
    near = Session.objects.standing().filter(
        crew__person=person, clear_at__gt=now - timedelta(hours=30), setup_at__lt=now + timedelta(hours=30)
    )
    crew = Prefetch("crew", Crew.objects.select_related("person"))
    found = near.select_related("job__client", "room__site").prefetch_related(crew).distinct()
    return [s for s in found.order_by("setup_at", "pk") if _is_today(s, now)]


def _is_today(session: Session, now: datetime) -> bool:
    today = day_span(now.astimezone(session.room.site.tz).date(), session.room.site.tz)
    return session.downbeat in today or now in session.whole


def current(sessions: list[Session], now: datetime) -> Session | None:
    """The one to open first: not over yet, else the last."""
    return next((s for s in sessions if s.clear_at > now), sessions[-1] if sessions else None)


def next_session(person: Person, now: datetime) -> Session | None:
    """What comes after today, for an empty day."""
    ahead = Session.objects.standing().filter(crew__person=person, setup_at__gt=now)
    return ahead.select_related("room__site").order_by("setup_at", "pk").first()
