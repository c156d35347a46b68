"""Drawing a room: the form, its live preview, and keeping what was typed once all of it makes sense."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.floors.drawing import drawing, in_words
from studio.floors.forms import FloorForm
from studio.floors.records import Area, Floor
from studio.models import Room, RoomFloor
from studio.signals import house_changed


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.SET_UP_HOUSE)
def floor(request: SignedInRequest, pk: int) -> HttpResponse:
    room = get_object_or_404(Room.objects.select_related("site"), pk=pk)
    row = RoomFloor.objects.filter(room=room).select_related("room").first()
    form = FloorForm(request.POST or None, room=room, row=row)
    if request.method == "POST" and form.is_valid():
        keep_floor(room, form)
        messages.success(request, f"The floor of {room} is saved.")
        return redirect("studio:floor", pk)
    context = {"room": room, "form": form, **_preview(form.area())}
    return render(
        request, "studio/floors/floor.html", context, status=422 if request.method == "POST" else 200
    )


@require_POST
@allowed(Act.SET_UP_HOUSE)
def preview(request: SignedInRequest, pk: int) -> HttpResponse:
    """What is typed so far, drawn; nothing is kept."""
    room = get_object_or_404(Room, pk=pk)
    form = FloorForm(request.POST, room=room, row=None)
    said = [] if form.is_valid() else [text for texts in form.errors.values() for text in texts]
    return render(request, "studio/floors/preview.html", {"said": said, **_preview(form.area())})


def keep_floor(room: Room, form: FloorForm) -> None:
    """An empty outline forgets the floor. What is planned in the room, or in what it is part of, hears of it."""
    read = form.cleaned_data
    with transaction.atomic():
        row = RoomFloor.objects.filter(room=room).first() or RoomFloor(room=room)
        area = form.area() if read["outline"] else Area(room.name, ())
        if area is not None:
            row.take(area)
            row.save()
        for each in [room, *Room.objects.filter(parts=room)]:
            house_changed.send(Room, thing=each)


def _preview(area: Area | None) -> dict[str, object]:
    if area is None:
        return {"drawn": None}
    floor = Floor((area,))
    return {"drawn": drawing(floor), "in_words": list(in_words(floor)), "name": area.name}
