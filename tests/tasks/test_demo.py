"""The demo house: it loads once, whole, into an empty database, on any day and at any hour."""

from __future__ import annotations

import stat
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from itertools import pairwise

import pytest
import time_machine
from django.conf import settings
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command
from django.db.models import Model

from bookings.models import Client, Crew, Rental, Session, SessionKind
from studio.models import (
    CableSpec,
    Claim,
    ConverterSpec,
    DirectBoxSpec,
    DynamicsSpec,
    EqualiserSpec,
    Fault,
    GearModel,
    GearUnit,
    ListeningSpec,
    MainsSpec,
    MicrophoneSpec,
    Person,
    Phantom,
    PreampSpec,
    Role,
    Room,
    RoomPair,
    Site,
    StandSpec,
    Stock,
)
from tasks.catalogue import load_catalogue
from tasks.catalogue.sources import STANDS
from tasks.demo import DATA
from tasks.demo.entries import read_entries
from tasks.models import Plan, PlannedInput, Reminder, Task, UnfilledNeed
from tasks.reading import read

LATE = datetime(
    2027, 3, 2, 22, 40, tzinfo=UTC
)  # 23:40 in Berlin, 22:40 in Lisbon: hardly any of today is left
SIGN_IN = settings.VAR_DIR / "demo-sign-in.txt"


@dataclass
class Printed:
    text: str


@pytest.fixture(scope="module")
def printed(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> Iterator[Printed]:
    """The house, loaded once for all tests here, and what the command printed."""
    out = StringIO()
    with django_db_blocker.unblock(), time_machine.travel(LATE, tick=False):
        call_command("load_demo", stdout=out)
        yield Printed(out.getvalue())
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture
def house(printed: Printed, db: None) -> Printed:
    return printed


def test_it_is_as_big_as_promised_and_says_so_in_one_line(house: Printed) -> None:
    assert Site.objects.values("zone").distinct().count() == 2
    assert Room.objects.count() >= 6
    assert Room.objects.filter(parts__isnull=False).distinct().count() >= 1
    assert Person.objects.count() >= 8
    assert GearModel.objects.count() >= 60
    assert GearUnit.objects.count() >= 150
    assert Session.objects.count() >= 25
    assert house.text.count("\n") == 1
    assert f"{GearUnit.objects.count()} units" in house.text


def test_every_role_is_held_and_somebody_holds_several(house: Printed) -> None:
    held = {role for person in Person.objects.all() for role in person.roles}
    assert held == set(Role.values)
    assert any(len(person.roles) > 1 for person in Person.objects.all())


def test_neighbours_share_a_booth(house: Printed) -> None:
    shared = [room for room in Room.objects.all() if room.wholes.count() > 1]
    assert [room.name for room in shared] == ["Ferry Booth"]


def test_a_second_load_is_refused_in_one_sentence_and_changes_nothing(house: Printed) -> None:
    before = SIGN_IN.read_text(), Session.objects.count(), Person.objects.count()
    with pytest.raises(CommandError, match=r"^This house isn't empty: it already has a site\. [^.]+\.$"):
        call_command("load_demo", stdout=StringIO())
    assert (SIGN_IN.read_text(), Session.objects.count(), Person.objects.count()) == before


def test_everybody_can_sign_in_with_what_the_file_says_and_only_its_owner_reads_it(house: Printed) -> None:
    assert stat.S_IMODE(SIGN_IN.stat().st_mode) == 0o600
    lines = [line.split(maxsplit=2) for line in SIGN_IN.read_text(encoding="utf-8").splitlines()]
    assert {line[0] for line in lines} == set(Person.objects.values_list("username", flat=True))
    assert len({line[1] for line in lines}) == len(lines)
    for username, password, who in lines:
        person = authenticate(username=username, password=password)
        assert isinstance(person, Person)
        assert who.startswith(person.name)
        assert all(Role(role).label in who for role in person.roles)


def test_addresses_can_never_reach_anybody(house: Printed) -> None:
    """RFC 2606 section 2 keeps .example and .invalid for this."""
    addresses = [
        *Person.objects.values_list("email", flat=True),
        *Client.objects.values_list("email", flat=True),
    ]
    assert addresses
    assert all(address.rpartition(".")[2] in ("example", "invalid") for address in addresses)


def test_every_kind_of_phantom_switching_and_microphone_is_there(house: Printed) -> None:
    preamps = PreampSpec.objects.filter(gear_model__units__isnull=False)
    assert set(preamps.values_list("switching", flat=True)) == set(PreampSpec.Switching.values)
    assert preamps.filter(switching=PreampSpec.Switching.PER_BANK, bank_size=4).exists()
    microphones = MicrophoneSpec.objects.filter(gear_model__units__isnull=False)
    assert set(microphones.values_list("transducer", flat=True)) == set(MicrophoneSpec.Transducer.values)
    assert set(microphones.values_list("phantom", flat=True)) == set(Phantom.values)
    ribbons = microphones.filter(transducer=MicrophoneSpec.Transducer.RIBBON)
    assert set(ribbons.values_list("phantom", flat=True)) == {Phantom.NEEDS, Phantom.MUST_NOT}
    assert microphones.filter(own_supply=True).exists()
    boxes = GearModel.objects.filter(kind=GearModel.Kind.DI, units__isnull=False)
    found = set(boxes.values_list("direct_box__active", "channels"))
    assert found == {(True, 1), (True, 2), (False, 1), (False, 2)}


def test_stands_are_counted_under_the_words_of_the_catalogue(house: Printed) -> None:
    for site in Site.objects.all():
        stands = Stock.objects.filter(site=site, kind=Stock.Kind.STAND, count__gt=0)
        assert set(stands.values_list("name", flat=True)) == set(STANDS) - {"none"}


FIGURES: list[type[Model]] = [
    *(MicrophoneSpec, PreampSpec, DirectBoxSpec, DynamicsSpec, EqualiserSpec, ListeningSpec, ConverterSpec),
    *(MainsSpec, StandSpec, CableSpec),
]


@pytest.mark.parametrize("kind", FIGURES)
def test_every_figure_that_gear_can_have_is_given_somewhere(house: Printed, kind: type[Model]) -> None:
    given = kind._default_manager.values()
    assert given
    assert {name for name in given[0] if not any(row[name] for row in given)} == set()


def test_matched_microphones_are_pairs_of_one_model(house: Printed) -> None:
    pairs: dict[str, list[GearUnit]] = {}
    for unit in GearUnit.objects.exclude(matched=""):
        pairs.setdefault(unit.matched, []).append(unit)
    assert pairs
    assert all(len(pair) == 2 and pair[0].gear_model == pair[1].gear_model for pair in pairs.values())


def test_some_gear_is_out_or_has_a_limit(house: Printed) -> None:
    still_open = Fault.objects.open()
    assert set(still_open.values_list("severity", flat=True)) == set(Fault.Severity.values)
    away = still_open.get(step=Fault.Step.AWAY)
    assert away.expected_back is not None
    repair = Claim.objects.of(away).get(resource_id=away.unit.resource_id)
    assert (repair.purpose, repair.ends) == (Claim.Purpose.REPAIR, away.expected_back)
    for effect, kind in [
        (Fault.Effect.NO_PHANTOM, GearModel.Kind.PREAMP),
        (Fault.Effect.PAD_STUCK, GearModel.Kind.MICROPHONE),
        (Fault.Effect.DEAD, GearModel.Kind.DI),
    ]:
        assert still_open.filter(effect=effect, unit__gear_model__kind=kind).exists()
    assert still_open.filter(
        severity=Fault.Severity.SUSPECTED, unit__gear_model__microphone__transducer="ribbon"
    )
    assert Fault.objects.filter(closed_at__isnull=False, outcome__gt="").exists()


def test_no_two_firm_claims_on_one_thing_overlap(house: Printed) -> None:
    claims: dict[int, list[Claim]] = {}
    for claim in Claim.objects.firm().filter(resource__exclusive=True).order_by("resource", "starts"):
        claims.setdefault(claim.resource_id, []).append(claim)
    assert sum(map(len, claims.values())) > 300
    for mine in claims.values():
        for earlier, later in pairwise(mine):
            assert earlier.ends is not None, earlier
            assert earlier.ends <= later.starts, (earlier, later)


def test_there_are_sessions_of_many_kinds(house: Printed) -> None:
    sessions = list(Session.objects.select_related("room__site"))
    assert {session.status for session in sessions} == set(Session.Status.values)
    nights = [s for s in sessions if local(s.downbeat, s).date() != local(s.end, s).date()]
    assert nights
    titles = " ".join(session.title.casefold() for session in sessions)
    for kind in (
        "quartet",
        "band",
        "audiobook",
        "choir",
        "brass",
        "jazz",
        "overdubs",
        "mix",
        "tuning",
        "podcast",
    ):
        assert kind in titles
    past = [session for session in sessions if session.end < LATE - timedelta(days=1)]
    worked = Counter(session.worked is not None for session in past)
    assert worked[True] >= 8
    assert worked[False] == 1, "one still waits for its times"


def test_a_newcomer_meets_everything_that_can_be_booked(house: Printed) -> None:
    sessions = Session.objects.select_related("kind", "series", "room__site")
    assert not sessions.filter(kind=None).exists()
    assert set(sessions.values_list("kind__nature", flat=True)) == set(SessionKind.Nature.values)
    assert {s.job.client.is_house for s in sessions if not s.is_work} == {True}
    assert not any(s.job.client.is_house for s in sessions if s.is_work)
    assert Client.objects.get(is_house=True).jobs.count() == 2
    assert {s.series.rule.partition(";")[0] for s in sessions if s.series} == {"FREQ=WEEKLY"}
    assert sessions.exclude(series=None).values("series").distinct().count() == 2
    assert [s.title for s in sessions if s.is_lockout] == ["Radio play, three days"]
    assert Claim.objects.filter(purpose=Claim.Purpose.STAYS).exists()
    together = sessions.get(beside__isnull=False)
    assert RoomPair.objects.filter(first=together.room, second__in=together.beside.all()).exists()
    assert sessions.filter(spare_until__isnull=False, deposit_in_at__isnull=False).exists()
    assert Rental.objects.filter(ordered_at__isnull=False).exists()


def test_even_late_tonight_an_assistant_has_a_set_up_to_tick_and_another_one_tomorrow_morning(
    house: Printed,
) -> None:
    todo = Task.objects.filter(done_at__isnull=True, assignee__isnull=False, stage=Task.Stage.SETUP)
    for day in (date(2027, 3, 2), date(2027, 3, 3)):
        sessions = {task.session for task in todo.select_related("session__room__site")}
        found = [s for s in sessions if local(s.downbeat, s).date() == day and s.end > LATE]
        assert found, day
        for session in found:
            assert session.crew.filter(role=Role.ASSISTANT).exists()
        if day > date(2027, 3, 2):
            assert any(local(session.downbeat, session).hour < 12 for session in found)


def test_what_is_not_over_is_planned_proven_and_reminded_of(house: Printed) -> None:
    ahead = Session.objects.standing().filter(end__gt=LATE)
    with_list = ahead.exclude(instrument_list="")
    assert with_list.count() >= 14
    plans = Plan.objects.filter(session__in=with_list)
    assert plans.count() == with_list.count()
    assert not plans.filter(stale=True).exists()
    assert set(plans.values_list("status", flat=True)) == {"proven"}
    reminded = set(Reminder.objects.filter(state=Reminder.State.WAITING).values_list("session", flat=True))
    assert reminded == set(
        Crew.objects.filter(session__in=ahead, role=Role.ASSISTANT).values_list("session", flat=True)
    )


def test_something_cannot_be_met_and_it_is_said_why(house: Printed) -> None:
    unfilled = UnfilledNeed.objects.all()
    assert 1 <= unfilled.count() <= 3, [str(need) for need in unfilled]
    assert all(need.reason and need.help for need in unfilled)


def test_nothing_that_is_out_is_planned_and_no_ribbon_gets_phantom(house: Printed) -> None:
    out = Fault.objects.open().filter(severity=Fault.Severity.OUT, channel=None, expected_back=None)
    assert out
    planned = PlannedInput.objects.filter(plan__session__end__gt=LATE)
    assert planned.count() > 120
    assert not planned.filter(unit__in=out.values("unit")).exists()
    must_not = planned.filter(unit__gear_model__microphone__phantom__in=[Phantom.MUST_NOT, Phantom.UNKNOWN])
    assert must_not.exists()
    assert not must_not.filter(phantom=True, unit__phantom="").exists()


def lists() -> list[tuple[str, str]]:
    entries = read_entries(DATA)["session"]
    return [
        (e.values["title"], e.values["instrument_list"]) for e in entries if "instrument_list" in e.values
    ]


@pytest.mark.parametrize(("title", "text"), lists(), ids=lambda value: value[:30].replace("\n", " "))
def test_each_list_is_read_without_losing_a_word(title: str, text: str) -> None:
    reading = read(text, load_catalogue())
    assert reading.sources
    covered = set()
    for piece in (*reading.sources, *reading.not_inputs, *reading.questions):
        assert text[piece.start : piece.start + len(piece.as_written)] == piece.as_written
        covered |= set(range(piece.start, piece.start + len(piece.as_written)))
    lost = [text[at] for at in range(len(text)) if at not in covered and text[at].isalnum()]
    assert not lost


def test_the_lists_leave_little_to_ask_but_something() -> None:
    catalogue = load_catalogue()
    questions = [question for _, text in lists() for question in read(text, catalogue).questions]
    assert questions, "give one list a word that the catalogue doesn't know: a question is part of the tour"
    assert len(questions) <= 3, questions


def local(instant: datetime, session: Session) -> datetime:
    return instant.astimezone(session.room.site.tz)
