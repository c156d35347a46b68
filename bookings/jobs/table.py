"""The list of jobs, as columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

import django_tables2 as tables
from django.db.models import Max, Q, QuerySet
from django.template.loader import render_to_string

from bookings.jobs.state import bill_of, needs_in_short, state_of_job
from bookings.models import Job, Session
from bookings.naming import found_in
from studio.clock import say_length


class JobTable(tables.Table):  # type: ignore[misc]
    """The rows are jobs with their sessions fetched; `needs` is filled in for those on the page."""

    title = tables.Column("Job", linkify=("bookings:job", {"job_id": tables.A("pk")}))
    client = tables.Column("Client", accessor="client__name")
    state = tables.Column("How it stands", empty_values=(), order_by="latest")
    booked = tables.Column("Booked", empty_values=(), orderable=False)
    needs = tables.Column("Still needs", empty_values=(), orderable=False)

    class Meta:
        attrs = {"class": "list stack"}
        template_name = "bookings/table.html"
        empty_text = "No job is called like that."
        order_by = "-state"

    now: datetime
    needs_by_session: Mapping[int, Sequence[str]] = {}

    def render_state(self, record: Job) -> str:
        state = state_of_job(list(record.sessions.all()), self.now)
        return render_to_string("parts/state.html", {"mark": state.mark, "words": state.words})

    def render_booked(self, record: Job) -> str:
        booked = bill_of(record, list(record.sessions.all())).booked
        return say_length(booked) if booked else "–"

    def render_needs(self, record: Job) -> str:
        return needs_in_short(record, list(record.sessions.all()), self.needs_by_session) or "nothing"


def jobs_for_list(query: str) -> QuerySet[Job]:
    """Jobs whose title or client holds each word of the query, with everything a row shows."""
    jobs = Job.objects.select_related("client").prefetch_related("sessions__crew", "sessions__room__site")
    if query:
        names = Job.objects.values_list("pk", "title", "client__name")
        jobs = jobs.filter(pk__in=[pk for pk, *words in names if found_in(query, " ".join(words))])
    standing = ~Q(sessions__status=Session.Status.CANCELLED)
    return jobs.annotate(latest=Max("sessions__end", filter=standing))
