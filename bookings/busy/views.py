"""The page on which a person takes in their own calendar, so that nobody books them while they are busy."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from bookings.busy.fetching import FetchProblem, host_of
from bookings.busy.forms import AddressForm, UploadForm
from bookings.busy.sources import (
    AHEAD,
    NotTaken,
    ahead,
    forget,
    import_busy,
    overlaps,
    subscribe,
)
from bookings.models import BusySource
from bookings.models.busy import zone_of
from studio.access import SignedInRequest

SHOWN_REPORTS = 20


@dataclass(frozen=True, slots=True)
class Line:
    """One calendar on the page. An address is shown by its server only: the rest may be a secret."""

    source: BusySource
    times: int

    @property
    def name(self) -> str:
        return self.source.filename or f"Calendar at {host_of(self.source.address)}"

    @property
    def reports(self) -> list[str]:
        return list(self.source.reports[:SHOWN_REPORTS])

    @property
    def more_reports(self) -> int:
        return max(len(self.source.reports) - SHOWN_REPORTS, 0)


@require_GET
def busy(request: SignedInRequest) -> HttpResponse:
    return _page(request, UploadForm(), AddressForm())


@require_POST
def upload(request: SignedInRequest) -> HttpResponse:
    form = UploadForm(request.POST, request.FILES)
    if form.is_valid():
        file = form.cleaned_data["calendar"]
        try:
            source = import_busy(request.user, request.user, file.read(), file.name or "calendar.ics")
        except NotTaken as problem:
            for report in problem.reports[:SHOWN_REPORTS]:
                form.add_error("calendar", report)
        else:
            return _taken(request, source)
    return _page(request, form, AddressForm())


@require_POST
def follow(request: SignedInRequest) -> HttpResponse:
    form = AddressForm(request.POST)
    if form.is_valid():
        try:
            source = subscribe(request.user, request.user, form.cleaned_data["address"])
        except (FetchProblem, NotTaken) as problem:
            form.add_error("address", str(problem))
        else:
            return _taken(request, source)
    return _page(request, UploadForm(), form)


@require_POST
def drop(request: SignedInRequest, source_id: int) -> HttpResponse:
    if not request.user.busy_sources.filter(pk=source_id).exists():
        raise Http404
    forget(request.user, source_id)
    messages.success(request, "The calendar is gone, and you are free in its hours.")
    return redirect("bookings:busy")


def _taken(request: SignedInRequest, source: BusySource) -> HttpResponse:
    if source.reports:
        messages.warning(request, "Your calendar was taken in. Read below what was said of it.")
    else:
        messages.success(request, "Your calendar was taken in whole.")
    return redirect("bookings:busy")


def _page(request: SignedInRequest, upload_form: UploadForm, address_form: AddressForm) -> HttpResponse:
    sources = request.user.busy_sources.defer("packed_copy").order_by("pk")
    taken = ahead(request.user, timezone.now())
    page = {
        "lines": [Line(source, len(taken.get(source.pk, []))) for source in sources],
        "overlaps": overlaps(request.user, [claim for claims in taken.values() for claim in claims]),
        "upload_form": upload_form,
        "address_form": address_form,
        "days_ahead": AHEAD.days,
        "tz": zone_of(request.user),
    }
    return render(request, "bookings/busy/busy.html", page)
