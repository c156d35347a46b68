"""The page of something that is counted: how many can be had at a time, who has the others, what is coming."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from studio.access import Act, SignedInRequest, allowed
from studio.gear.counted import counted_one, has_of
from studio.gear.forms import AskForm
from studio.gear.queries import claims_on
from studio.models import Person, Stock
from studio.spans import Span

AHEAD = timedelta(days=14)


@require_GET
@allowed(Act.SEE_GEAR)
def stock(request: SignedInRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Stock.objects.select_related("site", "stand", "cable"), pk=pk)
    ask = AskForm(request.GET, tz=found.site.tz)
    ask.is_valid()
    at = ask.cleaned_data.get("at")
    when = at or timezone.now()
    context = {
        "stock": found,
        "ask": ask,
        "at": at,
        "tz": found.site.tz,
        "counted": counted_one(found, when, request.user),
        "coming": coming(found, when, request.user),
    }
    return render(request, "studio/gear/stock.html", context)


def coming(stock: Stock, when: datetime, viewer: Person) -> list[str]:
    """Who takes how many in the next two weeks, first come first; what has begun by then stands above."""
    claims = claims_on({stock.resource_id}, Span(when, when + AHEAD), viewer).get(stock.resource_id, [])
    return [has_of(claim, stock) for claim in claims if claim.starts > when]
