"""What is counted has a page: how many are free at a time, who has the others, who will."""

from __future__ import annotations

import pytest
import time_machine
from django.test import Client

from studio.models import Claim, Role
from tests.house import at, make_person, make_stock, span, take_gear

pytestmark = pytest.mark.django_db


@time_machine.travel(at("2027-03-02 16:40"), tick=False)
@pytest.mark.parametrize("freelance", [False, True])
def test_counted_stock_says_how_many_are_free_and_who_has_the_others(client: Client, freelance: bool) -> None:
    booms = make_stock("short boom", 10, remark="two squeak")
    for when, number in [
        (span("2027-03-02 12:00", "2027-03-02 20:00"), 4),
        (span("2027-03-05 12:00", "2027-03-05 20:00"), 7),
    ]:
        claim = take_gear(booms, when)  # type: ignore[arg-type]  # stock has a resource as well
        Claim.objects.filter(pk=claim.pk).update(quantity=number)
    client.force_login(make_person(Role.ENGINEER, freelance=freelance))
    page = client.get(f"/gear/counted/{booms.pk}").content.decode()
    assert "6 of 10 free" in page
    assert "two squeak" in page
    assert page.index("4 with") < page.index("In the next two weeks") < page.index("7 with")
    assert "3 of 10 free" in client.get(f"/gear/counted/{booms.pk}?at=2027-03-05T13:00").content.decode()
    wrong = client.get(f"/gear/counted/{booms.pk}?at=soon").content.decode()
    assert "is not a time" in wrong
    assert "6 of 10 free" in wrong
    assert client.get(f"/gear/counted/{booms.pk + 1}").status_code == 404
    assert f"/gear/counted/{booms.pk}" in client.get("/gear?q=short+boom").content.decode()
