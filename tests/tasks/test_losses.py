"""The count after breakdown: what isn't back is raised once, and what relied on it is planned anew."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from bookings.booking import book
from bookings.models import Job, Session
from studio.models import Fault, Person, Room, Stock
from tasks.losses.counting_back import had
from tasks.models import PlannedInput
from tests.bookings.cast import browser_of, said
from tests.house import make_stock, make_unit
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def frozen() -> Iterator[None]:
    with time_machine.travel(MONDAY, tick=False):
        yield


@pytest.fixture
def session(job: Job, hall: Room, manager: Person) -> Session:
    return book(manager, draft(job, hall, "lead vocal\nsnare top"))


def test_what_is_missing_after_breakdown_is_raised_once(session: Session, manager: Person) -> None:
    there, desk, address = had(session), browser_of(manager), f"/sessions/{session.pk}/count"
    unit, (stock, most) = there.units[0], there.stocks[0]
    page = desk.post(address, {"missing": [unit.pk], f"stock-{stock.pk}": most + 1})
    assert page.status_code == 422
    assert f"{most} of {stock} were there to be had: 0 to {most} can be missing." in said(page)
    assert not Fault.objects.exists()
    assert f'value="{unit.pk}" checked' in page.content.decode()
    typed = {"missing": [unit.pk, "x"], f"stock-{stock.pk}": "1"}
    page = desk.post(address, typed, follow=True)
    assert f"Missing, and raised: {unit.tag}, 1 {stock}." in said(page)
    fault = Fault.objects.get()
    assert (fault.unit, fault.effect, fault.severity) == (unit, "missing", "out")
    assert Stock.objects.get(pk=stock.pk).count == stock.count - 1
    assert session.tasks.get(key="count").done_by == manager
    again = desk.post(address, typed)
    assert "counted already" in said(again)
    assert (Fault.objects.count(), Stock.objects.get(pk=stock.pk).count) == (1, stock.count - 1)


def test_a_count_that_is_no_number_is_asked_about(session: Session, manager: Person) -> None:
    stock = had(session).stocks[0][0]
    page = browser_of(manager).post(f"/sessions/{session.pk}/count", {f"stock-{stock.pk}": "some"})
    assert "“some” is no count." in said(page)
    assert 'value="some"' in page.content.decode()
    assert "Everything is back." in said(
        browser_of(manager).post(f"/sessions/{session.pk}/count", {}, follow=True)
    )


def test_cables_and_what_was_asked_for_by_its_tag_are_counted_too(session: Session, manager: Person) -> None:
    cable = make_stock("XLR 10 m", 12, kind=Stock.Kind.CABLE)
    make_stock("mains 4-way", 3, kind=Stock.Kind.OTHER)
    wanted = make_unit("Comp 1")
    session.wanted_units.add(wanted)
    there = had(session)
    assert wanted in there.units
    assert there.cables == [(cable, 12)]
    PlannedInput.objects.filter(plan__session=session).update(cable=cable.name)
    there = had(session)
    assert (cable, 2) in there.stocks
    assert there.cables == []
    typed = {f"stock-{cable.pk}": "1", "missing": [wanted.pk]}
    page = browser_of(manager).post(f"/sessions/{session.pk}/count", typed, follow=True)
    assert f"Missing, and raised: Comp 1, 1 {cable}." in said(page)
    assert Stock.objects.get(pk=cable.pk).count == 11
