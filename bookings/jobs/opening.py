"""Opening and changing jobs, and booking a session of a job that is typed in with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from bookings.booking import Draft, book
from bookings.models import Client, Job, Session
from bookings.naming import same_name
from studio.access import Act, require
from studio.models import Person


@dataclass(frozen=True, slots=True)
class NewJob:
    client: str
    title: str
    hourly_rate: Decimal | None = None
    currency: str = "EUR"
    note: str = ""


def client_named(name: str) -> Client:
    """The client of this name, however it is typed; made when there is none."""
    wanted = same_name(name)
    for pk, known in Client.objects.values_list("pk", "name"):
        if same_name(known) == wanted:
            return Client.objects.get(pk=pk)
    return Client.objects.get_or_create(name=name)[0]


def open_job(by: Person, new: NewJob) -> Job:
    """A new job, and its client if there is none of that name."""
    require(by, Act.BOOK)
    with transaction.atomic():
        return Job.objects.create(
            client=client_named(new.client),
            title=new.title,
            hourly_rate=new.hourly_rate,
            currency=new.currency,
            note=new.note,
        )


def change_job(by: Person, job: Job, new: NewJob) -> Job:
    """Give the job these names and this rate; a client that isn't known yet is made."""
    require(by, Act.BOOK)
    with transaction.atomic():
        job.client = client_named(new.client)
        job.title, job.note = new.title, new.note
        job.hourly_rate, job.currency = new.hourly_rate, new.currency
        job.save(update_fields=["client", "title", "note", "hourly_rate", "currency"])
    return job


class _PressedTwice(Exception):
    def __init__(self, first: Session) -> None:
        self.first = first


def book_with_new_job(
    by: Person, new: NewJob, draft: Draft, form_key: UUID | None, overrule: str = ""
) -> Session:
    """Open the job and book its first session: both or neither. `draft.job_id` is filled in here.

    Raises as bookings.booking.book does.
    """
    require(by, Act.BOOK)
    if form_key and (first := Session.objects.filter(form_key=form_key).first()):
        return first
    try:
        with transaction.atomic():
            job = open_job(by, new)
            session = book(by, replace(draft, job_id=job.pk), form_key, overrule)
            if session.job_id != job.pk:
                raise _PressedTwice(session)
            return session
    except _PressedTwice as twice:
        return twice.first
