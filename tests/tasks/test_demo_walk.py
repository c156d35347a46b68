"""The demo house, walked: every link that leads from its pages opens, on either database."""

from __future__ import annotations

import re
from collections import Counter, deque
from collections.abc import Iterator
from contextlib import suppress
from html import unescape
from urllib.parse import parse_qs

from django.urls import Resolver404, resolve

from studio.models import Role, Site
from tests.bookings.cast import browser_of
from tests.house import make_person
from tests.tasks.test_demo import Printed, house, printed

__all__ = ["house", "printed"]


OF_A_KIND = 4  # addresses of one name that are opened, each with another query or number
LINK = re.compile(r'(?:href|hx-get|src)="(/[^"#]*)')


def names_and_links(page: str) -> Iterator[tuple[str, str]]:
    for found in LINK.findall(page):
        address = unescape(found)
        with suppress(Resolver404):
            match = resolve(address.partition("?")[0])
            yield f"{match.view_name} {sorted(parse_qs(address.partition('?')[2]))}", address


def test_every_link_that_someone_of_the_house_can_follow_opens_a_page(house: Printed) -> None:
    """Pages' words are tested on SQLite; this walk asks all their questions of PostgreSQL too."""
    allowed = make_person(*Role, name="Walker", site=Site.objects.first())
    browser = browser_of(allowed)
    ahead, met, opened = deque(["/"]), Counter[str](), set[str]()
    while ahead:
        address = ahead.popleft()
        answer = browser.get(address, follow=True)
        assert answer.status_code == 200, address
        opened.add(resolve(answer.request["PATH_INFO"]).view_name)
        if answer.streaming or not answer["Content-Type"].startswith("text/html"):
            continue
        for kind, link in names_and_links(answer.content.decode()):
            if met[kind] < OF_A_KIND and link not in ahead and not kind.startswith("studio:sign_out"):
                met[kind] += 1
                ahead.append(link)
    assert len(opened) >= 55, sorted(opened)
