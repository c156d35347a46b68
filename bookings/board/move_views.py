"""Moving on the board: the answer while something is carried, and putting it down."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from bookings.board.forms import MoveForm
from bookings.board.moving import Answer, Move, answer, move_session, times_of, where
from bookings.board.shifts import ComesTwice, NoSuchTime, Times
from bookings.board.words import seconds_of
from bookings.booking import Stale
from bookings.ladder import PastHolds
from bookings.models import Session
from bookings.saying import hold_sentences
from bookings.sessions.walltime import choices_of
from bookings.words import clash_sentences
from studio.access import Act, SignedInRequest, allowed
from studio.claims import Conflict

UNREADABLE = "That move can't be read any more. Load the board again; nothing has changed."
CARRIED = (
    "session",
    "version",
    "room",
    "load_in",
    "downbeat",
    "end",
    "days",
    "minutes",
    "end_days",
    "end_minutes",
)


@require_POST
@allowed(Act.BOOK)
def check_move(request: SignedInRequest) -> HttpResponse:
    """What is in the way of putting it down here. Saves nothing."""
    form = MoveForm(request.POST)
    if not form.is_valid():
        return outcome(request, "refused", sentences=[UNREADABLE])
    move = form.move()
    try:
        times = move.times()
    except (NoSuchTime, ComesTwice) as trouble:
        return render(request, "bookings/board/check.html", {"trouble": str(trouble)})
    return render(request, "bookings/board/check.html", {"answer": answer(move, times)})


@require_POST
@allowed(Act.BOOK)
def move(request: SignedInRequest) -> HttpResponse:
    """Put down: saved, refused with what is in the way, or a question. An undo is a move back."""
    form = MoveForm(request.POST)
    if not form.is_valid():
        return outcome(request, "refused", sentences=[UNREADABLE])
    wanted = form.move()
    try:
        times = wanted.times()
    except NoSuchTime as trouble:
        return outcome(request, "refused", wanted, sentences=[str(trouble)])
    except ComesTwice as trouble:
        return which_of_two(request, form, trouble)
    if wanted.session.cancelled or wanted.session.version != wanted.version:
        return stale(request, wanted, times, wanted.session)
    found = answer(wanted, times)
    if not found.clear:
        return in_the_way(request, wanted, times, found)
    if found.agree and not form.cleaned_data["yes"]:
        press = [("yes", "1", "Move it all the same")]
        return outcome(request, "asked", sentences=found.agree, carried=carried(form), presses=press)
    return put_down(request, wanted, times, found)


def put_down(request: SignedInRequest, wanted: Move, times: Times, found: Answer) -> HttpResponse:
    """The database has the last word: what was free a moment ago may be taken now."""
    tz = wanted.room.site.tz
    former, room = times_of(wanted.session), wanted.session.room
    try:
        saved = move_session(request.user, wanted, times)
    except Stale as meanwhile:
        return stale(request, wanted, times, meanwhile.session)
    except Conflict as conflict:
        return in_the_way(request, wanted, times, Answer("", clash_sentences(conflict.clashes, tz)))
    except PastHolds as past:
        return in_the_way(request, wanted, times, Answer("", holds=hold_sentences(past.holds, tz)))
    undo: dict[str, Any] = {"session": saved.pk, "version": saved.version, "room": room.pk} | {
        name: getattr(former, name).isoformat() for name in ("load_in", "downbeat", "end")
    }
    said = f"Saved: “{saved.title}” is now in {where(wanted.room, times)}."
    return outcome(
        request,
        "saved",
        sentences=[said, *found.cautions],
        carried=undo,
        presses=[("", "", "Undo")],
        moved=saved,
        seconds=seconds_of(saved),
    )


def stale(request: SignedInRequest, wanted: Move, times: Times, now: Session) -> HttpResponse:
    """Who changed what meanwhile, and what was wanted."""
    entry = now.history.select_related("by").first()
    said = [f"“{now.title}” was changed meanwhile, so it has not been moved."]
    if entry:
        said.append(f"{entry.by or 'The house'}: {entry.words}")
    if now.cancelled:
        said[0] = f"“{now.title}” is cancelled, so it has not been moved."
    else:
        said.append(f"It stands now in {where(now.room, times_of(now))}.")
    said.append(f"You wanted {where(wanted.room, times)}.")
    return outcome(request, "stale", wanted, times, sentences=said)


def in_the_way(request: SignedInRequest, wanted: Move, times: Times, found: Answer) -> HttpResponse:
    holds = [*found.holds, "To pass them, write the reason on the form."] if found.holds else []
    said = [f"Not moved to {where(wanted.room, times)}.", *found.in_the_way, *holds]
    return outcome(request, "refused", wanted, times, sentences=said)


def which_of_two(request: SignedInRequest, form: MoveForm, twice: ComesTwice) -> HttpResponse:
    tz = form.cleaned_data["room"].site.tz
    presses = [("which", which, label) for which, label in choices_of(twice.wall, tz)]
    said = [str(twice), "Which is meant?"]
    return outcome(request, "asked", sentences=said, carried=carried(form), presses=presses)


def carried(form: MoveForm) -> dict[str, str]:
    """What was asked, to be sent again with an answer to the question."""
    answered = {name: form.data[name] for name in ("which", "yes") if form.data.get(name)}
    return {name: form.data.get(name, "") for name in CARRIED} | answered


def outcome(
    request: SignedInRequest, which: str, wanted: Move | None = None, times: Times | None = None, **more: Any
) -> HttpResponse:
    """`which` is saved, refused, asked or stale; board.js goes by it. Always a page's part that is shown."""
    address = form_address(wanted, times) if wanted and not wanted.session.cancelled else ""
    response = render(
        request, "bookings/board/moved.html", {"outcome": which, "form_address": address, **more}
    )
    if which in ("saved", "stale"):
        response["HX-Trigger"] = "board-moved"
    return response


def form_address(wanted: Move, times: Times | None) -> str:
    """The session's form, with what was wanted in the address."""
    address = reverse("bookings:change_session", args=[wanted.session.pk])
    if times is None:
        return address
    tz = wanted.room.site.tz
    walls = {name: wall(getattr(times, name), tz) for name in ("load_in", "downbeat", "end")}
    return f"{address}?{urlencode({'room': str(wanted.room.pk), **walls})}"


def wall(moment: datetime, tz: tzinfo) -> str:
    return moment.astimezone(tz).strftime("%Y-%m-%dT%H:%M")
