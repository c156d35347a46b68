"""The feeds, which anyone who has the address may read, and the page where a person gets addresses."""

from __future__ import annotations

from dataclasses import dataclass

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date
from django.views.decorators.http import require_GET, require_POST, require_safe

from bookings.calendar import feeds
from bookings.calendar.secrecy import keep_out_of_the_log
from bookings.models import Feed
from studio.access import Act, SignedInRequest, may
from studio.models import Room

keep_out_of_the_log()


@login_not_required
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    found = feeds.live(token)
    if found is None:
        return HttpResponse("There is no calendar at this address.\n", status=404, content_type="text/plain")
    now = timezone.now()
    state = feeds.state(found, now)
    response = HttpResponse(content_type="text/calendar; charset=utf-8")
    response["Cache-Control"] = "private, no-cache"
    response["Referrer-Policy"] = "no-referrer"
    response["Content-Disposition"] = 'inline; filename="calendar.ics"'  # else a copy bears the secret's name
    response["ETag"], response["Last-Modified"] = state.etag, http_date(state.last_modified.timestamp())
    unchanged = get_conditional_response(request, state.etag, int(state.last_modified.timestamp()), response)
    if unchanged is not response and unchanged is not None:
        return unchanged
    response.content = feeds.built(found, now)
    return response


@dataclass(frozen=True, slots=True)
class Line:
    """One calendar on the page; `feed` is None while it has no address."""

    name: str
    place: str
    room: Room | None
    feed: Feed | None
    address: str

    @property
    def key(self) -> str:
        return f"room-{self.room.pk}" if self.room else "own"

    @property
    def webcal(self) -> str:
        """The address under the scheme that calendar programs open (common practice, no single source)."""
        return f"webcal://{self.address.partition('://')[2]}"


class MakeForm(forms.Form):
    room = forms.ModelChoiceField(Room.objects.all(), required=False)


@require_GET
def calendars(request: SignedInRequest) -> HttpResponse:
    mine = {feed.room_id: feed for feed in request.user.feeds.all()}
    rooms = Room.objects.select_related("site") if may(request.user, Act.SEE_HOUSE) else Room.objects.none()
    page = {
        "own": _line(request, None, mine.get(None)),
        "rooms": [_line(request, room, mine.get(room.pk)) for room in rooms],
        "sees_clients": may(request.user, Act.SEE_CLIENTS),
        "days_back": feeds.DAYS_BACK,
        "days_ahead": feeds.DAYS_AHEAD,
    }
    return render(request, "bookings/calendar/calendars.html", page)


@require_POST
def make(request: SignedInRequest) -> HttpResponse:
    form = MakeForm(request.POST)
    if not form.is_valid():
        messages.error(request, "That room is not in this house any more. Choose one of these.")
        return redirect("bookings:calendars")
    made = feeds.make(request.user, form.cleaned_data["room"])
    messages.success(
        request, f"The calendar of {made} has an address now. Copy it into your calendar program."
    )
    return redirect("bookings:calendars")


@require_POST
def renew(request: SignedInRequest, feed_id: int) -> HttpResponse:
    try:
        renewed = feeds.renew(request.user, feed_id)
    except Feed.DoesNotExist:
        raise Http404 from None
    messages.success(request, f"The calendar of {renewed} has another address. The old one no longer works.")
    return redirect("bookings:calendars")


@require_POST
def revoke(request: SignedInRequest, feed_id: int) -> HttpResponse:
    try:
        feeds.revoke(request.user, feed_id)
    except Feed.DoesNotExist:
        raise Http404 from None
    messages.success(request, "The address no longer works.")
    return redirect("bookings:calendars")


def _line(request: HttpRequest, room: Room | None, feed: Feed | None) -> Line:
    address = request.build_absolute_uri(reverse("bookings:feed", args=[feed.token])) if feed else ""
    if room is None:
        return Line("My own calls", "", None, feed, address)
    return Line(room.name, room.site.name, room, feed, address)
