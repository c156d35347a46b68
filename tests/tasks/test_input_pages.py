"""The input list's page and what the booking form hears while a list is typed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from bookings.booking import Draft, book
from bookings.models import Client as BookingClient
from bookings.models import Job, Session
from studio.models import Role
from tasks.catalogue import load_catalogue
from tasks.inputs.views import parts
from tasks.models import Preference
from tasks.open_points import open_points
from tasks.planning.costs import CONCERNS, Costs
from tasks.reading import read
from tests.house import make_mic, make_person, make_preamp, make_room, make_stock


def signed_in(role: Role) -> Client:
    client = Client()
    client.force_login(make_person(role))
    return client


def booked(text: str) -> Session:
    room = make_room("Weaving Hall")
    make_preamp("Oak", 4, home_room=room)
    make_mic("C-1", "large condenser", "needs", max_spl_db=150)
    make_stock("tall boom", 6)
    job = Job.objects.create(client=BookingClient.objects.create(name="Tin Harbour"), title="Record")
    start = timezone.now() + timedelta(days=1)
    return book(
        make_person(Role.MANAGER),
        Draft(job.pk, room, "Vocals", start, start, start + timedelta(hours=3), instrument_list=text),
    )


@pytest.mark.django_db
def test_the_page_says_what_was_chosen_why_what_is_open_and_what_was_not_understood() -> None:
    session = booked("lead vocal\nglorpophone\nharp")
    page = signed_in(Role.ENGINEER).get(reverse("tasks:inputs", args=[session.pk])).content.decode()
    assert "C-1" in page
    assert "Why" in page
    assert "Still open" in page
    assert "Ways out" in page
    assert "“glorpophone”" in page
    assert "Proven" in page


@pytest.mark.django_db
def test_a_list_is_read_while_it_is_typed_and_nothing_is_saved() -> None:
    address = reverse("tasks:read_list")
    answer = signed_in(Role.MANAGER).post(address, {"instrument_list": "2x lead vox\nglorpophone"})
    assert answer.status_code == 200
    assert "glorpophone" in answer.content.decode()
    assert not Session.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    "text", ["", "\x00\x00", "<script>alert(1)</script>", "🎸" * 500, "a," * 5000, "‮kick"]
)
def test_no_text_breaks_the_reading_or_gets_into_the_page_raw(text: str) -> None:
    answer = signed_in(Role.MANAGER).post(reverse("tasks:read_list"), {"instrument_list": text})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.content.decode()


@pytest.mark.django_db
def test_a_session_that_cannot_be_filled_shows_among_the_open_points() -> None:
    session = booked("lead vocal\nglorpophone\nharp")
    phrases = open_points([session])[session.pk]
    assert "1 question about the list" in phrases
    assert any(phrase.endswith("not filled") for phrase in phrases)


@pytest.mark.django_db
def test_planning_again_takes_what_has_come_free_since() -> None:
    session = booked("2 lead vocals")
    assert session.plan.inputs.count() == 1
    make_mic("C-2", "large condenser", "needs", max_spl_db=150)
    client = signed_in(Role.ENGINEER)
    client.post(reverse("tasks:plan_again", args=[session.pk]))
    assert Session.objects.get(pk=session.pk).plan.inputs.count() == 2
    refused = signed_in(Role.ASSISTANT).post(reverse("tasks:plan_again", args=[session.pk]))
    assert refused.status_code == 403


@given(st.text(max_size=300))
def test_the_parts_of_a_text_are_the_whole_text(text: str) -> None:
    assert "".join(part.text for part in parts(text, read(text, load_catalogue()))) == text


@pytest.mark.django_db
def test_a_manager_weighs_a_cost_and_is_told_where_that_breaks_the_order() -> None:
    client = signed_in(Role.MANAGER)
    usual = {concern.field: str(getattr(Costs(), concern.field)) for concern in CONCERNS}
    said = client.post(
        reverse("tasks:costs"), {**usual, "against_engineer": "5"}, follow=True
    ).content.decode()
    assert "The order is broken" in said
    assert "“The engineer’s preference” no longer outweighs “The house’s preference”" in said
    wrong = client.post(reverse("tasks:costs"), {**usual, "fetched": "-3", "dear": "much"})
    assert wrong.status_code == 422
    assert "A cost can’t be below 0." in wrong.content.decode()
    assert 'value="much"' in wrong.content.decode()
    assert (
        "The order is broken" not in client.post(reverse("tasks:costs"), usual, follow=True).content.decode()
    )
    assert signed_in(Role.ENGINEER).get(reverse("tasks:costs")).status_code == 403


@pytest.mark.django_db
def test_preferences_are_kept_and_forgotten_on_their_pages() -> None:
    client = signed_in(Role.ENGINEER)
    page = reverse("tasks:preferences")
    said = client.post(page, {"source": "Snare top", "never": "yes", "wants": "ribbon"}, follow=True)
    assert "never ribbon, unless nothing else is left" in said.content.decode()
    wrong = client.post(page, {"source": "glorpophone", "never": "", "wants": "ribbon"})
    assert wrong.status_code == 422
    assert "No source and no family is called “glorpophone”" in wrong.content.decode()
    client.post(reverse("tasks:forget_preference", args=[Preference.objects.get().pk]))
    assert not Preference.objects.exists()
    assert client.post(reverse("tasks:house_preferences")).status_code == 403
    assert signed_in(Role.MANAGER).get(reverse("tasks:house_preferences")).status_code == 200
