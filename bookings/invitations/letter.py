"""An invitation as a message: plain words, and the calendar part beside them (RFC 6047 section 2.4)."""

from __future__ import annotations

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.urls import reverse

from bookings.invitations.rows import described, organiser_address
from bookings.letters.letter import LONGEST_SUBJECT, one_line
from bookings.models import CallLetter, Crew
from studio.clock import say

Kind = CallLetter.Kind
SUBJECTS = {
    Kind.REQUEST: "Call: {title}, {when}",
    Kind.CANCEL: "Off: {title}, {when}",
    Kind.CHASE: "Will you come? {title}, {when}",
    Kind.DECLINED: "Declined: {title}, {when}",
    Kind.PUSHED: "Later before: {title}, {when}",
}
METHOD = {Kind.REQUEST: "REQUEST", Kind.CANCEL: "CANCEL"}
SAYS = {
    Kind.REQUEST: "You are called. Please answer with your calendar, or on the page below.",
    Kind.CANCEL: "This call is off: you needn't come.",
}


class CallMail(EmailMultiAlternatives):
    """text/calendar is an alternative of the plain words, not an attachment: else it gets no answer buttons."""

    def attach_calendar(self, text: str, method: str) -> None:
        self.attach_alternative(text, f"text/calendar; method={method}; charset=UTF-8")


def letter(row: CallLetter) -> CallMail:
    session, tz = row.session, row.session.room.site.tz
    call = Crew.objects.filter(session=session, person=row.person_id).first()
    start = call.call_at if call else session.load_in
    kind = Kind(row.kind)
    facts = {"title": one_line(session.title), "when": say(start, tz)}
    mail = CallMail(
        subject=one_line(SUBJECTS[kind].format(**facts))[:LONGEST_SUBJECT],
        body=_body(row, kind, call),
        to=[row.to],
        reply_to=[organiser_address()],
        headers={"Message-ID": row.message_id, "Auto-Submitted": "auto-generated"},  # RFC 3834 section 5
    )
    if row.calendar and kind in METHOD:
        mail.attach_calendar(row.calendar, METHOD[kind])
    return mail


def _body(row: CallLetter, kind: CallLetter.Kind, call: Crew | None) -> str:
    session = row.session
    start, end = (call.call_at, call.until) if call else (session.load_in, session.end)
    lines = [one_line(session.title), "", row.words or SAYS[kind], ""]
    lines += described(session, row.person, start, end) if kind != Kind.CANCEL else []
    lines += [f"Where: {session.room.name}, {session.room.site.name}"]
    lines += [f"Times are on the clock of {session.room.site.zone}."]
    if kind != Kind.CANCEL:
        lines += ["", settings.SITE_ADDRESS + reverse("bookings:session", args=[session.pk])]
    return "\n".join(lines) + "\n"
