"""A site edits its list of kinds: what is in use is withdrawn, not deleted."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings.models import Session, SessionKind
from studio.models import Role
from tests.bookings.cast import browser_of, make_session, said
from tests.house import make_person, make_room, make_site

pytestmark = pytest.mark.django_db


def kind(name: str) -> SessionKind:
    return SessionKind.objects.get(site=make_site(), name=name)


def test_a_new_site_has_the_usual_list_and_adds_its_own(desk: Browser) -> None:
    site = make_site()
    assert "tracking" in said(desk.get("/kinds"))
    added = desk.post(
        f"/kinds/new/{site.pk}", {"name": "foley", "nature": "work", "wants_quiet": "on", "offered": "on"}
    )
    assert added.status_code == 302
    assert (kind("foley").wants_quiet, kind("foley").order) == (True, 11)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Give the kind a name."),
        ({"name": "  MIX "}, "Mill Lane has “mix” on its list already."),
        ({"name": "x" * 41}, "At most 40 characters fit here; this has 41."),
        ({"name": "bell\x07"}, "(U+0007"),
        ({"nature": "party"}, "Select a valid choice."),
        ({"order": "-1"}, "At least 0."),
        ({"order": "9" * 30}, "At most 9999 fits here."),
    ],
)
def test_what_makes_no_sense_gets_a_sentence_and_is_kept(
    desk: Browser, changed: dict[str, str], sentence: str
) -> None:
    typed = {"name": "foley", "nature": "work", "order": "3", **changed}
    page = desk.post(f"/kinds/new/{make_site().pk}", typed)
    assert page.status_code == 422
    assert sentence in said(page)
    assert page.context["form"]["name"].value() == typed["name"]
    assert SessionKind.objects.count() == 10


def test_a_name_that_was_withdrawn_is_offered_again_not_added_twice(desk: Browser) -> None:
    site = make_site()
    SessionKind.objects.filter(name="tour").update(offered=False)
    page = desk.post(f"/kinds/new/{site.pk}", {"name": "Tour", "nature": "work"})
    assert "It is withdrawn: offer it again." in said(page)


def test_a_kind_in_use_can_be_withdrawn_and_not_deleted(desk: Browser) -> None:
    session = make_session(make_room(), kind=kind("mix"))
    mix = kind("mix")
    page = desk.post(f"/kinds/{mix.pk}/delete", follow=True)
    assert "1 session is of the kind “mix”: withdraw it instead of deleting it." in said(page)
    page = desk.post(f"/kinds/{mix.pk}/offer", follow=True)
    assert "“mix” is withdrawn; sessions that have it keep it." in said(page)
    assert not kind("mix").offered
    assert Session.objects.get(pk=session.pk).kind == mix
    desk.post(f"/kinds/{mix.pk}/offer", {"offered": "yes"})
    assert kind("mix").offered


def test_an_unused_kind_can_be_deleted_twice_without_harm(desk: Browser) -> None:
    pk = kind("tour").pk
    assert "“tour” is deleted." in said(desk.post(f"/kinds/{pk}/delete", follow=True))
    assert "That kind is gone already." in said(desk.post(f"/kinds/{pk}/delete", follow=True))


def test_what_a_kind_in_use_means_for_the_room_stays(desk: Browser) -> None:
    make_session(make_room(), kind=kind("mix"))
    page = desk.post(
        f"/kinds/{kind('mix').pk}", {"name": "mixing", "nature": "closure", "loud": "on", "offered": "on"}
    )
    assert page.status_code == 302
    assert (kind("mixing").nature, kind("mixing").loud) == ("work", True)


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ASSISTANT, Role.TECH])
def test_only_managers_keep_the_list(role: Role) -> None:
    make_site()
    tour = kind("tour")
    other = browser_of(make_person(role))
    assert other.get("/kinds").status_code == 403
    assert other.post(f"/kinds/{tour.pk}/delete").status_code == 403


def test_the_page_asks_equally_often_however_many_sites_there_are(
    desk: Browser, django_assert_num_queries: object
) -> None:

    counts = []
    for name in ("Mill Lane", "Quay House", "Orchard"):
        make_site(name)
        with CaptureQueriesContext(connection) as asked:
            desk.get("/kinds")
        counts.append(len(asked))
    assert len(set(counts)) == 1


def test_strange_numbers_are_not_there(desk: Browser) -> None:
    for address in (f"/kinds/new/{'9' * 25}", f"/kinds/{'9' * 25}", "/kinds/99999"):
        assert desk.get(address).status_code == 404
