"""The input list: what was read, what each source gets and why, and what is still open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed, may
from tasks.by_hand import chosen, in_words
from tasks.follow import replan
from tasks.inputs.hand_forms import AddForm
from tasks.models import Plan, Task
from tasks.reading import NotInput, Question, Reading, ReadSource
from tasks.wanted import set_up
from tasks.words.reading import read_here
from tasks.words.views import source_names

LONGEST_LIST = 20_000


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the text as typed, and what became of it."""

    text: str
    became: str
    found: ReadSource | NotInput | Question | None = None


@require_GET
@allowed(Act.SEE_BOARD)
def inputs(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    reading = read_here(session.instrument_list)
    return render(
        request,
        "tasks/inputs/inputs.html",
        {
            "session": session,
            "plan": _plan(session),
            "reading": reading,
            "parts": list(parts(session.instrument_list, reading)),
            "correcting": may(request.user, Act.PLAN) and not session.cancelled,
            "names": source_names(),
            "by_hand": [(change, in_words(change)) for change in session.by_hand.select_related("by")],
            "chosen": chosen(session),
            "add_form": AddForm(),
            "set_up": set_up(session),
        },
    )


@require_GET
@allowed(Act.SEE_BOARD)
def session_parts(request: SignedInRequest, session_id: int) -> HttpResponse:
    """What the session's own page shows of its plan, checklist and reminders."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    tasks = list(session.tasks.all())
    return render(
        request,
        "tasks/inputs/session_parts.html",
        {
            "session": session,
            "plan": _plan(session),
            "questions": read_here(session.instrument_list).questions,
            "tasks": tasks,
            "done": sum(task.done_at is not None for task in tasks),
            "problems": [task for task in tasks if task.problem],
            "unassigned": any(task.assignee_id is None for task in tasks),
            "reminders": session.reminders.select_related("person"),
            "stages": Task.Stage,
        },
    )


@require_POST
@allowed(Act.BOOK)
def read_list(request: SignedInRequest) -> HttpResponse:
    """How a list reads, while it is being typed. Saves nothing."""
    text = request.POST.get("instrument_list", "")[:LONGEST_LIST]
    reading = read_here(text)
    return render(
        request, "tasks/inputs/reading.html", {"reading": reading, "parts": list(parts(text, reading))}
    )


@require_POST
@allowed(Act.PLAN)
def plan_again(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Plan anew from what is free and works now."""
    session = get_object_or_404(Session, pk=session_id)
    with transaction.atomic():
        planned = replan(session.pk)
    if planned:
        messages.success(request, "Planned anew from what is free and works now.")
    else:
        messages.error(request, "That could not be planned just now. It is tried again within a minute.")
    return redirect("tasks:inputs", session_id)


def parts(text: str, reading: Reading) -> Iterator[Part]:
    """The whole text in order: each piece as a source, no input, a question, or what stands between."""
    found: list[tuple[ReadSource | NotInput | Question, str]] = [
        *((each, "source") for each in reading.sources),
        *((each, "not an input") for each in reading.not_inputs),
        *((each, "question") for each in reading.questions),
    ]
    at = 0
    for each, became in sorted(found, key=lambda pair: (pair[0].start, -len(pair[0].as_written))):
        end = each.start + len(each.as_written)
        if each.start < at:
            continue
        if each.start > at:
            yield Part(text[at : each.start], "between")
        yield Part(text[each.start : end], became, each)
        at = end
    if at < len(text):
        yield Part(text[at:], "between")


def _plan(session: Session) -> Plan | None:
    plans = Plan.objects.prefetch_related(
        "inputs__unit__gear_model__microphone",
        "inputs__unit__home_room",
        "inputs__preamp_channel__unit",
        "inputs__inserts__unit",
        "inputs__inserts__channel",
        "unfilled",
    )
    return plans.filter(session=session).first()
