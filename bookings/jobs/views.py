"""The list of jobs, one job, and the form for a job."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django_tables2 import RequestConfig

from bookings.jobs.forms import JobForm, initial_of_job
from bookings.jobs.opening import change_job, open_job
from bookings.jobs.state import bill_of, needs_of_job, state_of_job
from bookings.jobs.table import JobTable, jobs_for_list
from bookings.models import Client, Job
from bookings.needs import needs_of
from bookings.sessions.state import state_of
from studio.access import Act, SignedInRequest, allowed

A_PAGE = 25


@require_GET
@allowed(Act.SEE_JOBS)
def jobs(request: SignedInRequest) -> HttpResponse:
    query = request.GET.get("q", "").strip()[:100]
    table = JobTable(jobs_for_list(query))
    table.now = timezone.now()
    RequestConfig(request, paginate={"per_page": A_PAGE, "silent": True}).configure(table)
    on_page = [session for row in table.page.object_list for session in row.record.sessions.all()]
    table.needs_by_session = needs_of(on_page, table.now)
    return render(request, "bookings/jobs/jobs.html", {"table": table, "query": query})


@require_GET
@allowed(Act.SEE_JOBS)
def job(request: SignedInRequest, job_id: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.select_related("client"), pk=job_id)
    sessions = list(job.sessions.with_all())
    now = timezone.now()
    needs = needs_of(sessions, now)
    context = {
        "job": job,
        "sessions": [(s, state_of(s, now, s.room.site.tz), needs[s.pk]) for s in sessions],
        "state": state_of_job(sessions, now),
        "needs": needs_of_job(job, sessions, needs),
        "bill": bill_of(job, sessions),
    }
    return render(request, "bookings/jobs/job.html", context)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def new_job(request: SignedInRequest) -> HttpResponse:
    form = JobForm(request.POST or None, initial={"currency": Job._meta.get_field("currency").default})
    if form.is_valid():
        opened = open_job(request.user, form.new_job())
        messages.success(request, f"“{opened.title}” is open.")
        return redirect("bookings:job", opened.pk)
    return form_page(request, form)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def edit_job(request: SignedInRequest, job_id: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.select_related("client"), pk=job_id)
    form = JobForm(request.POST or None, initial=initial_of_job(job))
    if form.is_valid():
        change_job(request.user, job, form.new_job())
        messages.success(request, "Saved.")
        return redirect("bookings:job", job_id)
    return form_page(request, form, job)


def form_page(request: SignedInRequest, form: JobForm, job: Job | None = None) -> HttpResponse:
    clients = Client.objects.values_list("name", flat=True)[:500]
    return render(request, "bookings/jobs/form.html", {"form": form, "job": job, "clients": clients})
