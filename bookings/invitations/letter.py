"""A row as an e-mail: plain words, and the calendar part beside them (RFC 6047 section 2.4).

The words are read from the calendar that goes out with them, so that both say the same.
"""

from __future__ import annotations

from email import encoders
from email.message import Message
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse

from bookings.invitations.message import start_of, told
from bookings.invitations.rows import organiser_address
from bookings.letters.letter import LONGEST_SUBJECT, one_line
from bookings.models import CallLetter
from studio.clock import say

Kind = CallLetter.Kind
METHOD = {Kind.REQUEST: "REQUEST", Kind.CHASE: "REQUEST", Kind.CANCEL: "CANCEL"}
ANSWER = "Please answer with your calendar program, or on the page below."
SAYS = {
    "Call": f"You are called. {ANSWER}",
    "Changed": f"Your call has changed and now is as follows. {ANSWER}",
    "Off": "This call is off: you needn't come.",
    "Will you come?": f"We have no answer from you yet. {ANSWER}",
}


class CallMail(EmailMultiAlternatives):
    """text/calendar is an alternative of the plain words, not an attachment: else it gets no answer buttons.

    It goes as base64, so that nobody on the way breaks its lines.
    """

    calendar = ""
    method = ""

    def message(self, **policy: Any) -> Any:
        if self.calendar and not self.alternatives:
            self.attach_alternative(self.calendar, "text/calendar")
        whole = super().message(**policy)
        for part in whole.walk():
            if part.get_content_type() == "text/calendar":
                as_calendar(part, self.calendar, self.method)
        return whole


def as_calendar(part: Message, text: str, method: str) -> None:
    del part["Content-Transfer-Encoding"]
    part.replace_header("Content-Type", f"text/calendar; method={method}; charset=UTF-8")
    part.set_payload(text.encode())
    encoders.encode_base64(part)


def letter(row: CallLetter) -> CallMail:
    if row.kind in METHOD:
        return _with_calendar(row)
    return _mail(row, f"{row.session.title}: {row.words}", _in_short(row))


def _with_calendar(row: CallLetter) -> CallMail:
    first = _first_word(row)
    tz = row.session.room.site.tz
    facts = {name.lower(): told(row.calendar, name) for name in ("SUMMARY", "LOCATION", "DESCRIPTION")}
    opening = first if first.endswith("?") else f"{first}:"
    subject = f"{opening} {facts['summary']}, {say(start_of(row.calendar), tz)}"
    page = "" if row.kind == Kind.CANCEL else page_of(row)
    body = render_to_string("bookings/invitations/letter.txt", {"says": SAYS[first], "page": page, **facts})
    mail = _mail(row, subject, body)
    mail.calendar, mail.method = row.calendar, METHOD[Kind(row.kind)]
    return mail


def _first_word(row: CallLetter) -> str:
    if row.kind == Kind.CANCEL:
        return "Off"
    if row.kind == Kind.CHASE:
        return "Will you come?"
    before = CallLetter.objects.filter(session=row.session_id, person=row.person_id, kind=Kind.REQUEST)
    return "Changed" if before.filter(pk__lt=row.pk, state=CallLetter.State.SENT).exists() else "Call"


def _in_short(row: CallLetter) -> str:
    session, tz = row.session, row.session.room.site.tz
    facts = {
        "summary": one_line(session.title),
        "location": f"{session.room.name}, {session.room.site.name}",
        "description": f"Load-in: {say(session.load_in, tz)}\nDownbeat: {say(session.downbeat, tz)}",
    }
    context = {"says": row.words, "page": page_of(row), **facts}
    return render_to_string("bookings/invitations/letter.txt", context)


def page_of(row: CallLetter) -> str:
    return f"{settings.SITE_ADDRESS}{reverse('bookings:session', args=[row.session_id])}"


def _mail(row: CallLetter, subject: str, body: str) -> CallMail:
    line = one_line(subject)
    return CallMail(
        subject=line if len(line) <= LONGEST_SUBJECT else line[: LONGEST_SUBJECT - 1] + "…",
        body=body,
        to=[row.to],
        reply_to=[organiser_address()],
        headers={"Message-ID": row.message_id, "Auto-Submitted": "auto-generated"},  # RFC 3834 section 5
    )
