"""The phone page: my day, and the checklist of any session."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from tasks.day.agenda import Worklist, current, next_session, sessions_of, worklist
from tasks.models import Task
from tasks.ticks import set_done, set_not_done, set_problem


@require_GET
@allowed(Act.TICK)
def my_day(request: SignedInRequest) -> HttpResponse:
    """Today for me: the session that isn't over, its next task whole, the rest in short."""
    now = timezone.now()
    sessions = sessions_of(request.user, now)
    session = current(sessions, now)
    if session is None:
        ahead = next_session(request.user, now)
        return render(request, "tasks/day/empty.html", {"ahead": ahead, "now": now})
    return _page(request, session, sessions)


@require_GET
@allowed(Act.TICK)
def checklist(request: SignedInRequest, session_id: int) -> HttpResponse:
    """One session's checklist, for whoever works on it."""
    return _page(request, _session(session_id), sessions_of(request.user, timezone.now()))


@require_GET
@allowed(Act.TICK)
def live(request: SignedInRequest, session_id: int) -> HttpResponse:
    """The part that keeps itself up to date; 204 when nothing has changed since `mark`."""
    work = worklist(_session(session_id), request.user)
    if request.GET.get("mark") == work.mark:
        return HttpResponse(status=204)
    return _work(request, work)


@require_POST
@allowed(Act.TICK)
def tick(request: SignedInRequest, task_id: int) -> HttpResponse:
    """state is done, not-done or problem (with words). Saying the same twice changes nothing."""
    task = get_object_or_404(
        Task.objects.filter(session__in=Session.objects.seen_by(request.user)).only("session_id"), pk=task_id
    )
    match request.POST.get("state"):
        case "done":
            set_done(request.user, task_id)
        case "not-done":
            set_not_done(request.user, task_id)
        case "problem":
            set_problem(request.user, task_id, request.POST.get("words", ""))
        case _:
            return HttpResponse("Say what to do with the task: done, not done or a problem.", status=400)
    if request.htmx:
        return _work(request, worklist(_session(task.session_id), request.user))
    return redirect(reverse("tasks:checklist", args=[task.session_id]) + f"#task-{task_id}")


def _session(session_id: int) -> Session:
    return get_object_or_404(Session.objects.with_all(), pk=session_id)


def _page(request: SignedInRequest, session: Session, sessions: list[Session]) -> HttpResponse:
    work = worklist(session, request.user)
    others = [other for other in sessions if other.pk != session.pk]
    return render(request, "tasks/day/day.html", {"work": work, "session": session, "others": others})


def _work(request: SignedInRequest, work: Worklist) -> HttpResponse:
    return render(request, "tasks/day/work.html", {"work": work, "session": work.session})
