"""The list of sessions with its filters, which live in the address."""

from __future__ import annotations

from datetime import date, datetime

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import Q, QuerySet
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_GET
from django_tables2 import RequestConfig

from bookings.folding import having
from bookings.models import Client, Crew, Job, Session, SessionKind
from bookings.sessions.dayfilter import day_filter
from bookings.sessions.state import state_of
from studio.access import Act, SignedInRequest, allowed, may
from studio.clock import day_span, say_span
from studio.models import Person, Room, Site
from studio.spans import Span

A_PAGE = 40
AHEAD, OVER = "ahead", "over"
NAMES = ("client", "job", "person", "kind")  # choices that tell who else is in the house


def kind_names() -> list[tuple[str, str]]:
    """Of every site, each once."""
    names = SessionKind.objects.order_by("name").values_list("name", flat=True).distinct()
    return [(name, name) for name in names]


class SessionFilter(filters.FilterSet):  # type: ignore[misc]
    q = filters.CharFilter(
        label="Find",
        method="by_words",
        widget=forms.TextInput(attrs={"placeholder": "number, client, job, person, words", "type": "search"}),
    )
    when = filters.ChoiceFilter(
        label="When",
        choices=[(AHEAD, "ahead and running"), (OVER, "over")],
        method="by_when",
        empty_label="any time",
    )
    day = day_filter("by_day")
    room = filters.ModelChoiceFilter(
        queryset=Room.objects.select_related("site"), label="Room", empty_label="any"
    )
    person = filters.ModelChoiceFilter(
        queryset=Person.objects.order_by("name", "pk"),
        label="Person",
        empty_label="any",
        field_name="crew__person",
        distinct=True,
    )
    client = filters.ModelChoiceFilter(
        queryset=Client.objects.all(), label="Client", empty_label="any", field_name="job__client"
    )
    job = filters.ModelChoiceFilter(
        queryset=Job.objects.order_by("title", "pk"), label="Job", empty_label="any"
    )

    kind = filters.ChoiceFilter(label="Kind", choices=kind_names, empty_label="any", field_name="kind__name")

    def by_words(self, sessions: QuerySet[Session], name: str, value: str) -> QuerySet[Session]:
        """Each word stands in the title, job, client, room or a person's name, or is the number."""
        found = sessions
        for word in value.split():
            found = found.filter(self.stands_in(word))
        return found

    def stands_in(self, word: str) -> Q:
        """What somebody may not see isn't searched for them either."""
        called = Crew.objects.filter(person__in=having(Person.objects.all(), "name", word))
        anywhere = Q(pk__in=having(Session.objects.all(), "title", word).values("pk"))
        anywhere |= Q(room__in=having(Room.objects.all(), "name", word)) | Q(pk__in=called.values("session"))
        if may(self.request.user, Act.SEE_CLIENTS):
            clients = having(Client.objects.all(), "name", word)
            jobs = Job.objects.filter(
                Q(client__in=clients) | Q(pk__in=having(Job.objects.all(), "title", word))
            )
            anywhere |= Q(job__in=jobs) | Q(pk__in=having(Session.objects.all(), "note", word).values("pk"))
        number = word.removeprefix("#")
        return anywhere | Q(pk=int(number)) if number.isdecimal() and len(number) < 10 else anywhere

    def by_when(self, sessions: QuerySet[Session], name: str, value: str) -> QuerySet[Session]:
        now = timezone.now()
        return sessions.filter(end__gt=now) if value == AHEAD else sessions.filter(end__lte=now)

    def by_day(self, sessions: QuerySet[Session], name: str, value: date) -> QuerySet[Session]:
        """The calendar day on each site's own clock."""
        on_the_day = Q(pk__in=[])
        for site in Site.objects.all():
            day = day_span(value, site.tz)
            on_the_day |= Q(room__site=site, load_in__lt=day.end, end__gt=day.start)
        return sessions.filter(on_the_day)


class SessionTable(tables.Table):  # type: ignore[misc]
    number = tables.Column("No.", accessor="pk")
    title = tables.Column("Session", linkify=("bookings:session", {"session_id": tables.A("pk")}))
    when = tables.Column(empty_values=(), order_by="downbeat")
    room = tables.Column("Room", accessor="room__name")
    client = tables.Column("Client", accessor="job__client__name")
    job = tables.Column("Job", accessor="job__title")
    crew = tables.Column("Who", empty_values=(), orderable=False)
    state = tables.Column("How it stands", empty_values=(), orderable=False)

    class Meta:
        attrs = {"class": "list stack"}
        template_name = "bookings/table.html"
        empty_text = "No session fits. Take a filter out."

    now: datetime

    def render_when(self, record: Session) -> str:
        return say_span(Span(record.downbeat, record.end), record.room.site.tz)

    def render_crew(self, record: Session) -> str:
        return ", ".join(call.person.name for call in record.crew.all()) or "nobody yet"

    def render_state(self, record: Session) -> str:
        state = state_of(record, self.now, record.room.site.tz)
        return render_to_string("parts/state.html", {"mark": state.mark, "words": state.words})


@require_GET
@allowed(Act.SEE_BOARD)
def sessions(request: SignedInRequest) -> HttpResponse:
    data = request.GET.copy()
    data.setdefault("when", "" if data.get("day") or data.get("q") else AHEAD)
    found = SessionFilter(data, queryset=Session.objects.seen_by(request.user).with_all(), request=request)
    hidden = () if may(request.user, Act.SEE_CLIENTS) else ("client", "job")
    for name in hidden if may(request.user, Act.SEE_HOUSE) else NAMES:
        del found.filters[name]
    order = "-downbeat" if data["when"] == OVER else "downbeat"
    table = SessionTable(found.qs.order_by(order, "pk"), exclude=hidden)
    table.now = timezone.now()
    RequestConfig(request, paginate={"per_page": A_PAGE, "silent": True}).configure(table)
    over = "" if table.rows or data["when"] != AHEAD else _over(data, found)
    return render(
        request, "bookings/sessions/sessions.html", {"table": table, "form": found.form, "over": over}
    )


def _over(data: QueryDict, found: SessionFilter) -> str:
    """The address of the same question about what is over; nothing where that finds none either."""
    data["when"] = OVER
    again = SessionFilter(data, queryset=found.queryset, request=found.request)
    return f"?{data.urlencode()}" if again.qs.exists() else ""
