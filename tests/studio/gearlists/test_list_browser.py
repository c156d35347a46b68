"""The pages of gear lists in a real browser, on a phone in the dark and on a desk in the light."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from django.urls import reverse

from studio.models import GearList, GearUnit, Role
from tests.browser import DESK, PHONE, axe, sign_in
from tests.conftest import OpenPage
from tests.house import make_person, make_site
from tests.studio.importing.sheets import SHEETS
from tests.studio.test_gear_browser import small_targets

SHOTS = os.environ.get("SHOTS", "")


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "dark"), (DESK, "light")])
def test_a_list_is_taken_in_by_hand(
    live_site: str, open_page: OpenPage, size: tuple[int, int], scheme: str, tmp_path: Path
) -> None:
    path = tmp_path / "house list.csv"
    path.write_bytes(SHEETS[0].content)
    page = open_page(size, color_scheme=scheme)
    sign_in(page, live_site, make_person(Role.MANAGER, site=make_site()))

    def looked_at(name: str) -> None:
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        if size == PHONE:
            assert not small_targets(page)
        if SHOTS:
            page.screenshot(path=f"{SHOTS}/{name}-{size[0]}.png", full_page=True)

    page.goto(live_site + reverse("studio:house"))
    page.get_by_role("link", name="Take in a gear list").click()
    looked_at("lists")
    page.get_by_label("The list").set_input_files(path)
    page.get_by_role("button", name="Read it").click()
    looked_at("headings")
    page.get_by_role("button", name="That is right").click()
    looked_at("report")
    page.get_by_label("voie 3 crachote").select_option("report")
    page.get_by_role("button", name="Keep these answers").click()
    page.get_by_role("button", name="Take it in").click()
    page.get_by_text("Taken in.", exact=False).first.wait_for()
    looked_at("taken-in")
    assert GearUnit.objects.get(serial="4-0019").faults.get().channel.number == 3
    assert GearList.objects.get().applied_at
