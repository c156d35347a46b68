"""Was last night finished, and what is open for tomorrow?"""

from __future__ import annotations

from datetime import date, timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from bookings.morning.pages import AT_A_TIME, forgotten, last_night, open_on, rentals_on
from bookings.rentals.hiring import said, state
from bookings.sessions.dayfilter import FIRST, LAST
from studio.access import Act, SignedInRequest, allowed
from studio.clock import say_day
from studio.models import Site


@require_GET
@allowed(Act.BOOK)
def night(request: SignedInRequest) -> HttpResponse:
    now = timezone.now()
    sites = sites_asked(request)
    found = [(site, last_night(site, now), forgotten(site, now)) for site in sites]
    sessions = [each for _, each_site, _ in found for each in each_site]
    unfinished = sum(not each.fine for each in sessions)
    lack = "lacks" if unfinished == 1 else "lack"
    return render(
        request,
        "bookings/morning/night.html",
        {
            "found": found,
            "several": len(found) > 1,
            "unfinished": unfinished,
            "how_many": f"{unfinished} of {len(sessions)} sessions still {lack} something",
            "waiting": sum(len(older) for *_, older in found),
            "many": any(len(older) == AT_A_TIME for *_, older in found),
            "sessions": len(sessions),
        },
    )


@require_GET
@allowed(Act.BOOK)
def ahead(request: SignedInRequest) -> HttpResponse:
    """What is open for a day, by default tomorrow on each site's own calendar."""
    now = timezone.now()
    found = []
    for site in sites_asked(request):
        day = day_asked(request) or now.astimezone(site.tz).date() + timedelta(days=1)
        rentals = [(rental, said(rental), state(rental, now)) for rental in rentals_on(site, day)]
        found.append((site, day, say_day(day), open_on(site, day, now), rentals))
    day = found[0][1] if found else timezone.localdate()
    tomorrow = timezone.localdate(timezone=found[0][0].tz) + timedelta(days=1) if found else day
    context = {
        "found": found,
        "several": len(found) > 1,
        "day": day,
        "is_tomorrow": day == tomorrow,
        "said_day": say_day(day),
        "site": request.GET.get("site", "") if len(found) == 1 else "",
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
    }
    return render(request, "bookings/morning/ahead.html", context)


def sites_asked(request: SignedInRequest) -> list[Site]:
    """The one that the address names, else all; one's own first."""
    sites = list(Site.objects.order_by("name"))
    named = [site for site in sites if str(site.pk) == request.GET.get("site")]
    return named or sorted(sites, key=lambda site: site.pk != request.user.site_id)


def day_asked(request: SignedInRequest) -> date | None:
    try:
        day = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None
    return day if FIRST <= day < LAST else None
