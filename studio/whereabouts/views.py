"""Where one unit is, and what is away."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.clock import say
from studio.gear.answers import unit_address
from studio.models import GearUnit, Move, Part, Person, Room, Stay
from studio.whereabouts import carrying, moves, parts
from studio.whereabouts.forms import DueForm, HereForm, HomeForm, LendForm, PartForm, SendForm
from studio.whereabouts.where import away_now, in_words, place_of, where_is

IN_ROOM = "in_room"
Refused = (moves.MoveRefused, parts.PartRefused)


@require_GET
@allowed(Act.MOVE_GEAR)
def away(request: SignedInRequest) -> HttpResponse:
    """What isn't at home: moved, lent, hired out, with what is overdue first; parts that are missing; rooms."""
    now = timezone.now()
    stays = [
        {"stay": stay, "place": place_of(stay), "late": stay.due_at is not None and stay.due_at <= now}
        for stay in away_now()
    ]
    context = {
        "to_carry": Move.objects.open().with_places(),
        "stays": stays,
        "parts": Part.objects.filter(missing_since__isnull=False).select_related("unit__site"),
        "rooms": Room.objects.select_related("site").order_by("site__name", "order", "name"),
    }
    return render(request, "studio/whereabouts/away.html", context)


@require_GET
@allowed(Act.MOVE_GEAR)
def where(request: SignedInRequest, pk: int) -> HttpResponse:
    return _page(request, _unit(pk))


@require_POST
@allowed(Act.REPORT_FAULT)
def here(request: SignedInRequest, pk: int) -> HttpResponse:
    """One press after scanning; the room is remembered for the next thing that is scanned."""
    unit, form = _unit(pk), HereForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose the room that you are in.")
        return redirect(unit_address(unit.tag))
    room = form.cleaned_data["room"]
    moves.here(request.user, unit, room)
    request.session[IN_ROOM] = room.pk
    messages.success(request, f"{unit.tag} is in {room.name}.")
    return redirect(unit_address(unit.tag))


@require_POST
@allowed(Act.REPORT_FAULT)
def back(request: SignedInRequest, pk: int) -> HttpResponse:
    unit = _unit(pk)
    moves.back_home(request.user, unit)
    messages.success(request, f"{unit.tag} is back: {unit.where}.")
    return redirect(unit_address(unit.tag))


@require_POST
@allowed(Act.MOVE_GEAR)
def send(request: SignedInRequest, pk: int) -> HttpResponse:
    unit = _unit(pk)
    form = SendForm(request.POST, tz=unit.site.tz, auto_id="send-%s")
    return _done(request, unit, "send", form, lambda said: _send(request.user, unit, **said))


def _send(
    by: Person, unit: GearUnit, room: Room, leaves_at: datetime | None, due_at: datetime | None
) -> Stay | Move:
    if leaves_at is None:
        return moves.send(by, unit, room, due_at)
    return carrying.ask(by, unit, room, leaves_at, due_at)


@require_POST
@allowed(Act.KEEP_GEAR)
def lives_there(request: SignedInRequest, pk: int) -> HttpResponse:
    unit, form = _unit(pk), HomeForm(request.POST, auto_id="home-%s")
    return _done(request, unit, "home", form, lambda said: moves.settle_there(request.user, unit, **said))


MOVES: dict[str, tuple[Callable[[Person, Move], Move], str]] = {
    "done": (carrying.carried, "is in {}"),
    "off": (carrying.call_off, "isn't brought to {}"),
}


@require_POST
@allowed(Act.MOVE_GEAR)
def move_step(request: SignedInRequest, pk: int, step: str) -> HttpResponse:
    """done: it is there; off: it stays where it is. Back to the page from which it was pressed."""
    if step not in MOVES:
        raise Http404("There is no such step.")
    act, words = MOVES[step]
    move = act(request.user, get_object_or_404(Move.objects.with_places(), pk=pk))
    if move.done == (step == "done"):
        messages.success(request, f"{move.unit.tag} {words.format(move.room.name)}.")
    else:
        messages.error(request, f"{move.unit.tag}: somebody else has closed this already.")
    return redirect("tasks:my_day" if request.POST.get("from") == "day" else "studio:away")


@require_POST
@allowed(Act.KEEP_GEAR)
def lend(request: SignedInRequest, pk: int) -> HttpResponse:
    unit = _unit(pk)
    form = LendForm(request.POST, tz=unit.site.tz, auto_id="lend-%s")
    return _done(request, unit, "lend", form, lambda said: moves.lend(request.user, unit, **said))


@require_POST
@allowed(Act.KEEP_GEAR)
def due(request: SignedInRequest, pk: int) -> HttpResponse:
    unit = _unit(pk)
    stay = get_object_or_404(Stay.objects.open().select_related("unit__site", "room__site"), unit=unit)
    form = DueForm(request.POST, tz=unit.site.tz, auto_id="due-%s")
    return _done(request, unit, "due", form, lambda said: moves.extend(request.user, stay, **said))


@require_POST
@allowed(Act.KEEP_GEAR)
def add_part(request: SignedInRequest, pk: int) -> HttpResponse:
    unit, form = _unit(pk), PartForm(request.POST, auto_id="part-%s")
    return _done(request, unit, "part", form, lambda said: parts.add_part(request.user, unit, **said))


STEPS: dict[str, Callable[[Person, Part], object]] = {
    "missing": parts.part_missing,
    "found": parts.part_found,
    "off": parts.drop_part,
}


@require_POST
@allowed(Act.REPORT_FAULT)
def part_step(request: SignedInRequest, pk: int, step: str) -> HttpResponse:
    """missing, found, or off: it no longer belongs to the set."""
    if step not in STEPS:
        raise Http404("There is no such step.")
    part = get_object_or_404(Part.objects.select_related("unit"), pk=pk)
    STEPS[step](request.user, part)
    words = {"missing": "is missing", "found": "is there again", "off": "no longer belongs to it"}
    messages.success(request, f"{part.unit.tag}: {part.name} {words[step]}.")
    return redirect(unit_address(part.unit.tag))


def here_form(request: SignedInRequest, unit: GearUnit, room: Room | None = None) -> HereForm:
    """With the room that the person last said they were in, else where the unit is thought to be."""
    known = request.session.get(IN_ROOM) or (room.pk if room else unit.home_room_id)
    return HereForm(initial={"room": known}, auto_id="here-%s")


def _unit(pk: int) -> GearUnit:
    return get_object_or_404(
        GearUnit.objects.select_related("gear_model", "site", "home_site", "home_room__site"), pk=pk
    )


def _done(
    request: SignedInRequest,
    unit: GearUnit,
    name: str,
    form: forms.Form,
    act: Callable[[dict[str, Any]], object],
) -> HttpResponse:
    """Do it and say where it is now; or show the page with what was typed and why it won't do."""
    if form.is_valid():
        try:
            done = act(form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            unit = _unit(unit.pk)
            words = in_words(where_is(unit), unit)
            if isinstance(done, Move):
                words = f"to be brought to {done.room}, leaving {say(done.leaves_at, unit.site.tz)}"
            messages.success(request, f"{unit.tag}: {words}.")
            return redirect("studio:where", unit.pk)
    return _page(request, unit, **{name: form})


def _page(request: SignedInRequest, unit: GearUnit, **bound: forms.Form) -> HttpResponse:
    tz, now = unit.site.tz, where_is(unit)
    context: dict[str, Any] = {
        "unit": unit,
        "where": now,
        "words": in_words(now, unit),
        "tz": tz,
        "trail": list(_trail(unit)),
        "parts": unit.parts.all(),
        "here": here_form(request, unit, now.room),
        "send": SendForm(tz=tz, auto_id="send-%s"),
        "moves": unit.moves.open().with_places(),
        "home": HomeForm(auto_id="home-%s"),
        "stands_elsewhere": now.room is not None and not now.at_home,
        "lend": LendForm(tz=tz, auto_id="lend-%s"),
        "due": DueForm(tz=tz, initial={"due_at": now.due_at}, auto_id="due-%s"),
        "part": PartForm(auto_id="part-%s"),
        "wrong": next(iter(bound), ""),
    }
    return render(request, "studio/whereabouts/where.html", context | bound, status=422 if bound else 200)


def _trail(unit: GearUnit) -> list[dict[str, Any]]:
    """The last moves, newest first."""
    stays = unit.stays.select_related("room__site", "moved_by", "returned_by")[:20]
    return [{"stay": stay, "place": place_of(stay), "until": _until(stay, unit)} for stay in stays]


def _until(stay: Stay, unit: GearUnit) -> str:
    ended: datetime | None = stay.ended_at
    if ended is None:
        return "still"
    by = f", moved on by {stay.returned_by}" if stay.returned_by else ""
    return f"until {say(ended, unit.site.tz)}{by}"
