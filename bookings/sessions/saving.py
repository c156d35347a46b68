"""From a clean form to a booked or changed session."""

from __future__ import annotations

from django.db import transaction

from bookings.booking import book, change
from bookings.housework import house_job
from bookings.jobs.opening import NewJob, book_with_new_job, open_job
from bookings.models import Job, Session
from bookings.sessions.forms import SessionForm
from studio.access import Act, require
from studio.models import Person


def save_new(by: Person, form: SessionForm) -> Session:
    """Raises Conflict and PastHolds."""
    typed = form.cleaned_data
    if typed["job"] or not typed["new_job"]:
        with transaction.atomic():
            job = typed["job"] or house_job(form.nature)
            return book(by, form.draft(job.pk), typed["form_key"], typed["overrule"])
    new = NewJob(typed["new_client"], typed["new_job"])
    return book_with_new_job(by, new, form.draft(job_id=0), typed["form_key"], typed["overrule"])


def save_change(by: Person, form: SessionForm, session_id: int) -> Session:
    """Raises Conflict, PastHolds and Stale; then a job that was typed in isn't opened either."""
    require(by, Act.BOOK)
    typed = form.cleaned_data
    with transaction.atomic():
        job = job_of(by, form)
        return change(by, session_id, typed["version"] or 0, form.draft(job.pk), typed["overrule"])


def job_of(by: Person, form: SessionForm) -> Job:
    """The one chosen, one that was typed in and is opened by this, or the house's own."""
    typed = form.cleaned_data
    if typed["job"]:
        chosen: Job = typed["job"]
        return chosen
    if typed["new_job"]:
        return open_job(by, NewJob(typed["new_client"], typed["new_job"]))
    return house_job(form.nature)
