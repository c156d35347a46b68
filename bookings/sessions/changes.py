"""Who changed what and when, over all sessions, with filters that live in the address."""

from __future__ import annotations

from datetime import date

import django_filters as filters
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings.models import SessionEntry
from bookings.sessions.dayfilter import day_filter
from studio.access import Act, SignedInRequest, allowed
from studio.clock import day_span
from studio.models import Person, Room, Site

A_PAGE = 50


class ChangeFilter(filters.FilterSet):  # type: ignore[misc]
    day = day_filter("by_day")
    by = filters.ModelChoiceFilter(
        queryset=Person.objects.order_by("name", "pk"), label="Who", empty_label="anybody"
    )
    room = filters.ModelChoiceFilter(
        queryset=Room.objects.select_related("site"),
        label="Room",
        empty_label="any",
        field_name="session__room",
    )
    words = filters.CharFilter(label="Words", field_name="words", lookup_expr="icontains")

    def by_day(self, entries: QuerySet[SessionEntry], name: str, value: date) -> QuerySet[SessionEntry]:
        """The calendar day on each site's own clock."""
        on_the_day = Q(pk__in=[])
        for site in Site.objects.all():
            day = day_span(value, site.tz)
            on_the_day |= Q(session__room__site=site, at__gte=day.start, at__lt=day.end)
        return entries.filter(on_the_day)


@require_GET
@allowed(Act.BOOK)
def changes(request: SignedInRequest) -> HttpResponse:
    entries = SessionEntry.objects.select_related("by", "session__room__site")
    found = ChangeFilter(request.GET, queryset=entries)
    page = Paginator(found.qs, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "bookings/sessions/changes.html", {"page": page, "form": found.form})
