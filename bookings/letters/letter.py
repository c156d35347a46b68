"""What a letter about a hold says. A client is never told who else asks: who works here is a confidence."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import datetime, tzinfo

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string
from django.urls import reverse

from bookings.models import HoldLetter, Session
from studio.clock import say

LONGEST_SUBJECT = 150  # characters; the hold's whole title stands in the letter
Kind, To = HoldLetter.Kind, HoldLetter.To


@dataclass(frozen=True, slots=True)
class Words:
    """Both take room, day, title and until."""

    subject: str
    says: str


FOR_HOUSE = {
    Kind.ASKED: Words(
        "Challenged, answer by {until}: {title}",
        "Somebody below this hold wants to confirm. Ask its client for a yes or no: yes means confirming it. "
        "Without an answer by {until} it falls and the next one moves up.",
    ),
    Kind.REMINDED: Words(
        "No answer yet, {until}: {title}",
        "This hold is challenged and half of the time to answer is over. Without an answer by {until} it "
        "falls and the next one moves up.",
    ),
    Kind.FIRST: Words(
        "First in line now: {title}",
        "Nobody stands above this hold any more. It can be confirmed.",
    ),
    Kind.DECIDE: Words(
        "Yes or no for {day}: {title}",
        "This hold is for {day} and undecided. Ask its client, then confirm or release it, so that the room "
        "can be made ready.",
    ),
}
FOR_CLIENT = {
    Kind.ASKED: Words(
        "Please confirm or let go by {until}: {title}",
        "Another party would like to have the time that we hold for you. Please tell us by {until} whether "
        "you confirm it. Without an answer by then the hold falls.",
    ),
    Kind.REMINDED: Words(
        "Still to be confirmed by {until}: {title}",
        "We have no answer from you yet. Please tell us by {until} whether you confirm the time that we hold "
        "for you. Without an answer by then the hold falls.",
    ),
}


def letter(row: HoldLetter) -> EmailMessage:
    """As the hold stands now, to the one address of the row."""
    hold = row.session
    tz = hold.room.site.tz
    words = (FOR_CLIENT if row.reader == To.CLIENT else FOR_HOUSE)[Kind(row.kind)]
    facts = {
        "room": hold.room.name,
        "day": say(hold.load_in, tz),
        "title": one_line(hold.title),
        "until": with_zone(row.answer_by, tz) if row.answer_by else "",
    }
    subject = one_line(words.subject.format(**facts))
    page = settings.SITE_ADDRESS + reverse("bookings:session", args=[hold.pk])
    context = {
        "says": words.says.format(**facts),
        "title": facts["title"],
        "facts": facts_of(hold, tz),
        "zone": hold.room.site.zone,
        "page": page if row.reader == To.HOUSE else "",
        "notice": hold.room.site.notice if row.reader == To.CLIENT else "",
    }
    return EmailMessage(
        subject=subject if len(subject) <= LONGEST_SUBJECT else subject[: LONGEST_SUBJECT - 1] + "…",
        body=render_to_string("bookings/holds/letter.txt", context),
        to=[row.to],
        headers={"Message-ID": row.message_id, "Auto-Submitted": "auto-generated"},  # RFC 3834 section 5
    )


def facts_of(hold: Session, tz: tzinfo) -> list[tuple[str, str]]:
    return [
        ("Room", f"{hold.room.name}, {hold.room.site}"),
        ("Load-in", with_zone(hold.load_in, tz)),
        ("Downbeat", with_zone(hold.downbeat, tz)),
        ("End", with_zone(hold.end, tz)),
    ]


def with_zone(instant: datetime, tz: tzinfo) -> str:
    """Like “Thu 4 March, 16:40 CET”: the hour that a change of the clocks repeats is told apart."""
    return f"{say(instant, tz)} {instant.astimezone(tz):%Z}"


def one_line(text: str) -> str:
    """Without line breaks and control characters (Unicode categories C and Z but the blank)."""
    plain = "".join(" " if unicodedata.category(each)[0] in "CZ" else each for each in text)
    return " ".join(plain.split())
