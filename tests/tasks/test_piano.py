"""A piano that a session uses is tuned before it (common practice, no single source)."""

from __future__ import annotations

import pytest
import time_machine
from django.utils import timezone

from bookings.models import Session, SessionKind
from bookings.needs import needs_of
from studio.models import GearModel
from tasks.piano import UNTUNED
from tests.bookings.cast import make_session
from tests.house import at, make_model, make_room, make_unit

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("tuned", "needed"),
    [(None, True), ("2027-03-04 07:00", False), ("2027-03-02 07:00", False), ("2027-02-27 07:00", True)],
)
def test_a_session_with_the_house_s_piano_needs_a_tuning_within_three_days_before(
    tuned: str | None, needed: bool
) -> None:
    hall = make_room()
    model = make_model(GearModel.Kind.INSTRUMENT, "Concert grand piano")
    make_unit("Grand", model, home_room=hall)
    with time_machine.travel(at("2027-02-20 12:00"), tick=False):
        session = make_session(hall, "10:00", "18:00", instrument_list="grand piano, vocal")
        if tuned:
            kind = SessionKind.objects.get(nature=SessionKind.Nature.UPKEEP)
            make_session(hall, tuned, tuned[:11] + "09:00", kind=kind, title="Tuner")
        found = needs_of([Session.objects.with_all().get(pk=session.pk)], timezone.now())
    assert (UNTUNED in found[session.pk]) is needed


def test_the_piano_of_a_part_is_tuned_for_the_whole() -> None:
    floor = make_room("Floor")
    hall = make_room("Hall", parts=[floor])
    make_unit("Grand", make_model(GearModel.Kind.INSTRUMENT, "Concert grand piano"), home_room=floor)
    with time_machine.travel(at("2027-02-20 12:00"), tick=False):
        session = make_session(hall, "10:00", "18:00", instrument_list="grand piano, vocal")
        found = Session.objects.with_all().filter(pk=session.pk)
        assert UNTUNED in needs_of(list(found), timezone.now())[session.pk]
        kind = SessionKind.objects.get(nature=SessionKind.Nature.UPKEEP)
        make_session(floor, "07:00", "08:30", kind=kind, title="Tuner")
        assert UNTUNED not in needs_of(list(found), timezone.now())[session.pk]
