"""Corrections of what was read are remembered for the house, and what stands on them is planned anew."""

from __future__ import annotations

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.test import Client as Browser
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.booking import book
from bookings.lists import asked_by
from bookings.models import Job, Session
from studio.models import Person, Role, Room
from tasks.models import HouseWord, Plan
from tasks.reading.text import key_of
from tasks.words.reading import NO_INPUT, Words, read_here, without_number
from tasks.words.teaching import NotTaught, forget, teach
from tests.house import make_person
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("2x ac gtr", "ac gtr"),
        ("ac gtr (2)", "ac gtr"),
        ("3) ac gtr", "ac gtr"),
        ("• (2x) Zupfgeige", "Zupfgeige"),
        ("tom x2", "tom"),
        ("12-string guitar", "12-string guitar"),
        ("DX7", "DX7"),
        ("x", "x"),
    ],
)
def test_the_words_of_an_entry_are_what_its_number_leaves(written: str, words: str) -> None:
    assert without_number(written) == words


@given(st.text(max_size=40))
def test_of_any_text_a_part_is_left_and_taking_numbers_off_again_changes_nothing(written: str) -> None:
    words = without_number(written)
    assert words in written
    assert without_number(words) == words


LISTS = st.lists(
    st.sampled_from(["lead vocal", "2x flarn", "the flarn", "gromp", "trumpet", "12"]), max_size=5
)


@settings(deadline=None, max_examples=60)
@given(LISTS, st.booleans())
def test_a_taught_word_is_never_a_question_and_nothing_else_is_lost(rows: list[str], as_input: bool) -> None:
    text = "\n".join(rows)
    words = Words((("flarn", "trumpet"),)) if as_input else Words(no_inputs=frozenset({key_of("flarn")}))
    before, reading = read_here(text, Words()), read_here(text, words)
    assert not [each for each in reading.questions if without_number(each.as_written) == "flarn"]
    both = [[*r.sources, *r.questions, *r.not_inputs] for r in (before, reading)]
    covered = ["".join(sorted(c for e in each for c in e.as_written if c.isalnum())) for each in both]
    assert covered[0] == covered[1]


@pytest.mark.django_db
def test_a_correction_is_remembered_planned_by_and_can_be_taken_back(
    job: Job, hall: Room, manager: Person, django_capture_on_commit_callbacks: object
) -> None:
    with time_machine.travel(MONDAY, tick=False):
        first = book(manager, draft(job, hall, "lead vocal\n2x flarn"))
        other = book(manager, draft(job, hall, "flarn\ntrumpet", day=4))
        assert Plan.objects.get(session=first).questions == 1
        browser = Browser()
        browser.force_login(manager)
        page = browser.get(f"/sessions/{first.pk}/inputs").content.decode()
        assert 'value="flarn"' in page
        answer = browser.post(
            f"/sessions/{first.pk}/inputs/correct", {"words": "flarn", "source": "flugelhorn"}, follow=True
        )
        assert "From now on “flarn” means flugelhorn in this house." in answer.content.decode()
        plan = Plan.objects.get(session=first)
        assert (plan.questions, [each.source for each in plan.inputs.all()][1:]) == (0, ["flugelhorn"] * 2)
        assert Plan.objects.get(session=other).stale
        assert asked_by("flarn").instruments == ("flugelhorn",)
        assert "flarn" in browser.get("/words").content.decode()
        browser.post(f"/words/{HouseWord.objects.get().pk}/forget")
        assert asked_by("flarn").instruments == ()
        teach(manager, "FLARN", "")
        [kept] = [each for each in read_here("2x flarn").not_inputs if each.as_written == "2x flarn"]
        assert kept.why == NO_INPUT


@pytest.mark.django_db
def test_what_can_not_be_taught_is_said_and_nothing_changes(job: Job, hall: Room, manager: Person) -> None:
    for words, source in (
        ("", "trumpet"),
        ("12", "trumpet"),
        ("x" * 61, "trumpet"),
        ("flarn", "no such thing"),
    ):
        with pytest.raises(NotTaught):
            teach(manager, words, source)
    with pytest.raises(PermissionDenied):
        teach(make_person(Role.ASSISTANT), "flarn", "trumpet")
    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, hall, "flarn"))
        browser = Browser()
        browser.force_login(manager)
        address = f"/sessions/{session.pk}/inputs/correct"
        said = browser.post(
            address, {"words": "flarn", "source": "no such thing"}, follow=True
        ).content.decode()
        assert "Nothing was changed for “flarn”. No source is called “no such thing”." in said
        assert browser.post("/words", {"words": "", "source": "x"}).status_code == 422
    assert not HouseWord.objects.exists()


@pytest.mark.django_db
def test_the_later_meaning_stands(manager: Person) -> None:
    teach(manager, "Gromp", "trumpet")
    word = teach(manager, "gromp", "flugelhorn")
    assert HouseWord.objects.count() == 1
    forget(manager, word)
    assert Session.objects.count() == HouseWord.objects.count() == 0
