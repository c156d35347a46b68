"""The feeds, which anyone who has the address may read, and the page where a person gets addresses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

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
from bookings.calendar.contents import look
from bookings.calendar.secrecy import keep_out_of_the_log
from bookings.calendar.sessions import DAYS_AHEAD, DAYS_BACK
from bookings.models import Feed, Job
from bookings.models.feeds import SUBJECTS
from studio.access import Act, SignedInRequest, may, require
from studio.models import GearUnit, Person, Room, Site

keep_out_of_the_log()


@login_not_required
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    found, now = feeds.live(token), timezone.now()
    if found is None:
        return no_calendar()
    state = feeds.known_state(found, now)
    if state is None or (answer := answered(request, state)).status_code != 304:
        return _looked_at(request, found, now)
    return answer


def _looked_at(request: HttpRequest, found: Feed, now: datetime) -> HttpResponse:
    """Something may have changed, or whoever asks has nothing yet: it is only built if it must be."""
    if not feeds.is_open(found):
        return no_calendar()
    built_for, there = feeds.signature(found, now), look(found, now)
    state = feeds.state_of(found, there)
    if state and (answer := answered(request, state)).status_code == 304:
        if built_for != found.built_for:
            feeds.keep(found, built_for, there)
        return answer
    octets, state = feeds.build_from(found, built_for, there)
    return answered(request, state, octets)


def answered(request: HttpRequest, state: feeds.State, octets: bytes = b"") -> HttpResponse:
    """The calendar, or 304 for whoever has it already."""
    response = HttpResponse(octets, content_type="text/calendar; charset=utf-8")
    response["Cache-Control"] = "private, no-cache"
    response["Referrer-Policy"] = "no-referrer"
    response["Content-Disposition"] = 'inline; filename="calendar.ics"'  # else a copy bears the secret's name
    modified = int(state.last_modified.timestamp())
    response["ETag"], response["Last-Modified"] = state.etag, http_date(modified)
    return get_conditional_response(request, state.etag, modified, response) or response


def no_calendar() -> HttpResponse:
    return HttpResponse("There is no calendar at this address.\n", status=404, content_type="text/plain")


@dataclass(frozen=True, slots=True)
class Line:
    """One calendar on the page; `feed` is None while one's own has no address."""

    name: str
    what: str
    feed: Feed | None
    address: str

    @property
    def key(self) -> str:
        return f"feed-{self.feed.pk}" if self.feed and self.what else "own"

    @property
    def webcal(self) -> str:
        """The address under the scheme that calendar programs open (common practice, no single source)."""
        return f"webcal://{self.address.partition('://')[2]}"


GONE = "That {} is not in this house any more. Choose one of these."


class RoomField(forms.ModelChoiceField[Room]):
    def label_from_instance(self, obj: Room) -> str:
        return f"{obj}, {obj.site}"


class MakeForm(forms.Form):
    """What is asked for: one of the four, or none for one's own calls. Only what the person may see is offered."""

    room = RoomField(
        Room.objects.select_related("site"),
        required=False,
        empty_label="no room",
        error_messages={"invalid_choice": GONE.format("room")},
    )
    site = forms.ModelChoiceField(
        Site.objects.order_by("name"),
        required=False,
        empty_label="no site",
        error_messages={"invalid_choice": GONE.format("site")},
    )
    job = forms.ModelChoiceField(
        Job.objects.filter(closed_at=None).order_by("title", "pk"),
        required=False,
        empty_label="no job",
        error_messages={"invalid_choice": GONE.format("job")},
    )
    unit = forms.CharField(label="Gear unit, by its tag", required=False, max_length=40)
    detail = forms.ChoiceField(label="It tells", choices=Feed.Detail, required=False)

    def __init__(self, person: Person, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "make-%s", **kwargs})
        self.subject: Room | Site | Job | GearUnit | None = None
        if not may(person, Act.SEE_HOUSE):
            for name in ("room", "site", "unit"):
                del self.fields[name]
        if not may(person, Act.SEE_JOBS):
            del self.fields["job"]

    def clean_unit(self) -> GearUnit | None:
        tag = self.cleaned_data["unit"].strip()
        unit = GearUnit.objects.filter(tag__iexact=tag).first() if tag else None
        if tag and unit is None:
            raise forms.ValidationError(f"No unit has the tag “{tag}”. Look it up under Gear.")
        return unit

    def clean(self) -> dict[str, Any]:
        subjects = [each for name in SUBJECTS if (each := self.cleaned_data.get(name))]
        if len(subjects) > 1:
            raise forms.ValidationError("Choose one: a room, a site, a job or a unit.")
        self.subject = subjects[0] if subjects else None
        return self.cleaned_data


@require_GET
def calendars(request: SignedInRequest) -> HttpResponse:
    """What a link from elsewhere names, like ?unit=Q-1, is filled in."""
    named = {name: request.GET[name] for name in SUBJECTS if name in request.GET}
    return calendars_page(request, MakeForm(request.user, initial=named))


def calendars_page(request: SignedInRequest, form: MakeForm) -> HttpResponse:
    feeds_made = list(request.user.feeds.select_related("owner", "room__site", "job", "site", "unit"))
    own = [feed for feed in feeds_made if feed.detail == Feed.Detail.FULL and feed.subject_name is None]
    lines = [_line(request, feed) for feed in feeds_made if feed not in own]
    page = {
        "own": Line("My own calls", "", *_addressed(request, own[0] if own else None)),
        "lines": sorted(lines, key=lambda line: (line.name, line.what)),
        "form": form,
        "sees_clients": may(request.user, Act.SEE_CLIENTS),
        "days_back": DAYS_BACK,
        "days_ahead": DAYS_AHEAD,
    }
    return render(request, "bookings/calendar/calendars.html", page, status=422 if form.errors else 200)


@require_POST
def make(request: SignedInRequest) -> HttpResponse:
    form = MakeForm(request.user, request.POST)
    refuse_what_is_not_offered(request, form)
    if not form.is_valid():
        return calendars_page(request, form)
    made = feeds.make(request.user, form.subject, form.cleaned_data["detail"] or Feed.Detail.FULL)
    messages.success(
        request, f"The calendar of {made} has an address now. Copy it into your calendar program."
    )
    return redirect("bookings:calendars")


def refuse_what_is_not_offered(request: SignedInRequest, form: MakeForm) -> None:
    """Raises PermissionDenied: silently their own calendar would be made instead."""
    for name in set(SUBJECTS) - set(form.fields):
        if request.POST.get(name):
            require(request.user, Act.SEE_JOBS if name == "job" else Act.SEE_HOUSE)


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


def _line(request: HttpRequest, feed: Feed) -> Line:
    kind = {"room": "room", "job": "job", "site": "site", "unit": "gear unit"}
    what = kind.get(feed.subject_name or "", "own calls")
    place = f" at {feed.room.site}" if feed.room else ""
    return Line(str(feed), f"{what}{place}, {feed.get_detail_display()}", *_addressed(request, feed))


def _addressed(request: HttpRequest, feed: Feed | None) -> tuple[Feed | None, str]:
    if feed is None:
        return None, ""
    return feed, request.build_absolute_uri(reverse("bookings:feed", args=[feed.token]))
