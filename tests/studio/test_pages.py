"""What every page has: the frame, the menu by permission, and pages in words for what went wrong."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from studio.models import Role
from studio.templatetags.house import PAGES
from tests.house import make_person, make_unit

pytestmark = pytest.mark.django_db


def menu(client: Client) -> list[str]:
    page = client.get("/gear").content.decode()
    nav = page.partition('<nav class="pages"')[2].partition("</nav>")[0]
    return re.findall(r">([^<>\s][^<>]*)</a>", nav)


@pytest.mark.parametrize(
    ("role", "hidden"),
    [
        (Role.ASSISTANT, {"Jobs", "Bench"}),
        (Role.ENGINEER, {"Jobs", "Bench"}),
        (Role.TECH, {"Jobs", "My day"}),
        (Role.MANAGER, set()),
    ],
)
def test_the_menu_shows_what_the_role_may_open(client: Client, role: Role, hidden: set[str]) -> None:
    client.force_login(make_person(role))
    shown = menu(client)
    assert {"Board", "Gear", "Calendars"} <= set(shown)
    assert not hidden & set(shown)


def test_the_menu_opens_every_page_that_it_shows(client: Client) -> None:
    client.force_login(make_person(*Role))
    page = client.get("/gear").content.decode()
    nav = page.partition('<nav class="pages"')[2].partition("</nav>")[0]
    addresses = re.findall(r'href="([^"]+)"', nav)
    assert len(addresses) >= len(PAGES)
    for address in addresses:
        assert client.get(address).status_code == 200, address


def test_the_present_page_is_marked_and_no_other(client: Client) -> None:
    client.force_login(make_person(Role.MANAGER))
    make_unit("Oak")
    for address in ("/gear", "/gear/all/", "/gear/Oak"):
        page = client.get(address).content.decode()
        assert re.findall(r'aria-current="page">([^<]+)</a>', page)[:1] == ["Gear"]


def test_the_frame_has_what_helps_everyone_find_their_way(client: Client) -> None:
    client.force_login(make_person(Role.ENGINEER))
    page = client.get("/gear").content.decode()
    for part in (
        '<html lang="en">',
        'name="viewport"',
        '<a class="skip" href="#main">',
        '<main id="main"',
        'role="status"',
        "X-CSRFToken",
    ):
        assert part in page
    assert page.count("<h1") == 1


def test_a_wrong_password_is_refused_in_words_and_keeps_the_name(client: Client) -> None:
    make_person(Role.TECH, username="bo")
    response = client.post("/sign-in", {"username": "bo", "password": "wrong"})
    page = response.content.decode()
    assert 'value="bo"' in page
    assert 'role="alert"' in page
    assert "wrong" not in page.partition('type="password"')[2].partition(">")[0]


def test_a_missing_page_says_so_in_words(client: Client) -> None:
    client.force_login(make_person(Role.TECH))
    response = client.get("/no/such/page")
    assert response.status_code == 404
    assert "There is nothing at this address" in response.content.decode()


def test_a_page_for_somebody_else_says_for_whom(client: Client) -> None:
    client.force_login(make_person(Role.ENGINEER))
    response = client.get("/bench")
    assert response.status_code == 403
    assert "Only a bench tech or manager can work on the bench." in response.content.decode()


def test_the_page_for_our_own_errors_needs_nothing_that_could_be_broken() -> None:
    page = render_to_string("500.html")
    assert "Something broke on our side" in page
    assert 'id="problem"' in page


def test_a_form_that_is_too_old_keeps_what_was_typed_and_can_be_sent_again() -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(make_person(Role.ENGINEER))
    unit = make_unit("Oak")
    typed = {"effect": "dead", "words": 'hums <b>loud</b> & "long"'}
    response = client.post("/gear/Oak", {**typed, "csrfmiddlewaretoken": "old"})
    page = response.content.decode()
    assert response.status_code == 403
    assert "Nothing was saved yet" in page
    assert not unit.faults.exists()
    assert "hums &lt;b&gt;loud&lt;/b&gt; &amp; &quot;long&quot;" in page

    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.partition('id="problem"')[2])
    assert token
    again = client.post("/gear/Oak", {**typed, "csrfmiddlewaretoken": token[1]})
    assert again.status_code == 302
    assert unit.faults.get().words == typed["words"]


def test_every_class_that_the_parts_use_has_a_style() -> None:
    found = finders.find("studio/deskhand.css")
    assert isinstance(found, str)
    css = Path(found).read_text()
    parts = "".join(
        render_to_string(f"parts/{name}.html", {"mark": "half", "words": "works", "more": "m", "number": 1})
        for name in ("strip", "state", "mark", "facts", "legend")
    )
    names = {name for group in re.findall(r'class="([^"]+)"', parts) for name in group.split()}
    assert {name for name in names if f".{name}" not in css} <= {"mark-half", "strip-name"}


@pytest.mark.parametrize("mark", ["full", "half", "broken", "crossed"])
def test_a_mark_never_stands_without_words_and_is_not_read_out(mark: str) -> None:
    shown = render_to_string("parts/state.html", {"mark": mark, "words": "works", "more": "since Tuesday"})
    assert "works" in shown
    assert "since Tuesday" in shown
    assert 'aria-hidden="true"' in shown


def test_page_links_keep_the_filters() -> None:
    from django.core.paginator import Paginator

    request = RequestFactory().get("/gear/all/?kind=microphone&page=2")
    page = Paginator(list(range(30)), 10).page(2)
    shown = render_to_string("parts/pagination.html", {"page": page}, request)
    assert "?kind=microphone&amp;page=1" in shown
    assert "?kind=microphone&amp;page=3" in shown
    assert "page 2 of 3, 30 in all" in shown


@pytest.mark.django_db
def test_an_address_with_a_null_character_is_refused_with_a_sentence() -> None:
    client = Client()
    client.force_login(make_person(Role.ENGINEER))
    for address in ("/gear/%00", "/gear?q=a%00b"):
        answer = client.get(address)
        assert answer.status_code == 400
        assert "type the words anew" in answer.content.decode()


@pytest.mark.django_db
def test_a_form_sent_after_the_sign_in_ran_out_is_kept_to_be_sent_again() -> None:
    answer = Client().post(
        "/sessions/new", {"title": "Quartet <b>", "engineers": ["3", "4"], "password": "x"}
    )
    assert answer.status_code == 403
    page = answer.content.decode()
    assert "Your sign-in has run out" in page
    assert 'name="title" value="Quartet &lt;b&gt;"' in page
    assert page.count('name="engineers"') == 2
    assert 'name="password"' not in page


@pytest.mark.django_db
def test_typing_after_the_sign_in_ran_out_is_told_so_without_leaving_the_page() -> None:
    fragment = Client().post("/read-list", {"instrument_list": "kick"}, headers={"HX-Request": "true"})
    assert fragment.status_code == 200
    assert "nothing was saved" in fragment.content.decode()
    assert "HX-Redirect" not in fragment


@pytest.mark.django_db
def test_a_list_that_keeps_itself_up_to_date_leads_to_the_sign_in_and_back() -> None:
    headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/day"}
    answer = Client().get("/sessions/1/checklist/live", headers=headers)
    assert answer.status_code == 204
    assert answer["HX-Redirect"] == "/sign-in?next=%2Fday"


@pytest.mark.django_db
def test_signing_out_twice_leads_to_the_sign_in() -> None:
    assert Client().post("/sign-out").status_code == 302
