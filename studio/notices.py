"""Telling somebody something once: a row, sent by the worker through studio.outbox."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.utils import timezone

from studio.models import Notice, Person
from studio.outbox import Outcome, failed, hand_over, lease_next, mark, send_round, why_not
from studio.post import Post, message_id


def tell(
    person: Person, key: str, subject: str, text: str, useless_after: datetime, path: str = ""
) -> Notice:
    """A letter under this key goes out once, however often it is told. The worker is woken after the transaction."""
    notice, new = Notice.objects.get_or_create(
        key=key,
        defaults={
            "person": person,
            "subject": subject[:150],
            "text": text,
            "path": path,
            "due_at": timezone.now(),
            "useless_after": useless_after,
            "message_id": message_id("notice", key),
        },
    )
    if new:
        transaction.on_commit(_wake, robust=True)
    return notice


def _wake() -> None:
    from studio.wakeups import send_notices  # which imports this module

    send_notices.delay()


def send_due() -> int:
    """One round; gives the number of rows that were dealt with."""
    return send_round(send_next)


def send_next(post: Post) -> bool:
    """Deals with the next row that is due. Says whether there was one."""
    notice = lease_next(Notice)
    if notice is None:
        return False
    mark(notice, deliver(notice, post))
    return True


def deliver(notice: Notice, post: Post) -> Outcome:
    if not notice.person.is_active:
        return Outcome(Notice.State.DROPPED, "They no longer work here.")
    if refusal := why_not(notice):
        return refusal
    if not notice.person.email:
        return failed(f"{notice.person} has no e-mail address.")
    return hand_over(notice, post, lambda: letter(notice))


def letter(notice: Notice) -> EmailMessage:
    """Plain text, to the person's own address."""
    where = f"\n\n{settings.SITE_ADDRESS}{notice.path}" if notice.path else ""
    return EmailMessage(
        subject=" ".join(notice.subject.split()),
        body=f"{notice.text}{where}\n",
        to=[notice.person.email],
        headers={"Message-ID": notice.message_id, "Auto-Submitted": "auto-generated"},  # RFC 3834 section 5
    )
