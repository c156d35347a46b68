"""Teaching the reader a word of the house, and taking it back. What is still open is planned anew."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from bookings.models import Session
from studio.access import Act, require
from studio.models import Person
from tasks.catalogue import load_catalogue
from tasks.follow import replan_soon
from tasks.models import HouseWord
from tasks.reading.text import key_of


class NotTaught(ValueError):
    """The words can't be taught; the message says what to do."""


def teach(by: Person, words: str, source: str) -> HouseWord:
    """From now on the house reads these words as the source of this name; an empty name for no input.

    Said again, the later one stands. Raises NotTaught, PermissionDenied.
    """
    require(by, Act.PLAN)
    words, key = " ".join(words.split()), key_of(words)
    if not any(letter.isalpha() for letter in key):
        raise NotTaught("Write the words that the list uses, with at least one letter in them.")
    if len(words) > 60 or len(key) > 120:
        raise NotTaught("These are too many words: teach the name of the instrument alone, in 60 letters.")
    found = load_catalogue().by_name.get(source)
    if source and found is None:
        raise NotTaught(f"No source is called “{source}”. Choose one of the list.")
    with transaction.atomic():
        row, _ = HouseWord.objects.update_or_create(
            key=key,
            defaults={
                "words": words,
                "source": found.id if found else "",
                "taught_by": by,
                "taught_at": timezone.now(),
            },
        )
        _read_again(words)
    return row


def forget(by: Person, word: HouseWord) -> None:
    require(by, Act.PLAN)
    with transaction.atomic():
        word.delete()
        _read_again(word.words)


def _read_again(words: str) -> None:
    """Sessions ahead whose list has these words are planned anew."""
    ahead = Session.objects.standing().filter(end__gt=timezone.now(), plan__isnull=False)
    key = key_of(words)
    hit = [pk for pk, text in ahead.values_list("pk", "instrument_list") if key in key_of(text)]
    replan_soon(hit)
