"""The page of a room, and its notes."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.models import Room, RoomNote
from studio.roomsheet.sheet import add_note, end_note, sheet_of


class NoteForm(forms.Form):
    words = forms.CharField(
        label="What there is to know",
        max_length=300,
        error_messages={
            "required": "Say what there is to know, in a few words.",
            "max_length": "Say it in 300 letters or fewer; these are %(show_value)d.",
        },
    )
    kind = forms.ChoiceField(
        label="What it is",
        choices=RoomNote.Kind.choices,
        initial=RoomNote.Kind.QUIRK,
        widget=forms.RadioSelect,
        help_text="What “stays as it is” is meant to be so for now, and stands here until somebody ends it.",
        error_messages={"required": "Choose one of the two.", "invalid_choice": "Choose one of the two."},
    )


@require_GET
@allowed(Act.SEE_GEAR)
def room_sheet(request: SignedInRequest, pk: int) -> HttpResponse:
    return _page(request, _room(pk), NoteForm())


@require_POST
@allowed(Act.MOVE_GEAR)
def note(request: SignedInRequest, pk: int) -> HttpResponse:
    room, form = _room(pk), NoteForm(request.POST)
    if not form.is_valid():
        return _page(request, room, form, 422)
    add_note(request.user, room, **form.cleaned_data)
    messages.success(request, "Noted.")
    return redirect("studio:room_sheet", pk)


@require_POST
@allowed(Act.MOVE_GEAR)
def end(request: SignedInRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(RoomNote.objects.select_related("room"), pk=pk)
    end_note(request.user, found)
    messages.success(request, f"No longer so: {found.words}")
    return redirect("studio:room_sheet", found.room_id)


def _room(pk: int) -> Room:
    return get_object_or_404(Room.objects.select_related("site"), pk=pk)


def _page(request: SignedInRequest, room: Room, form: NoteForm, status: int = 200) -> HttpResponse:
    context = {
        "room": room,
        "sheet": sheet_of(room),
        "form": form,
        "tz": room.site.tz,
        "now": timezone.now(),
    }
    return render(request, "studio/roomsheet/room.html", context, status=status)
