"""Headphones: who hears which mix from which output, what that loads, and how loud for how long."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client as Browser
from hypothesis import given
from hypothesis import strategies as st

from bookings.booking import book
from bookings.models import Job
from studio.models import Claim, GearModel, GearUnit, ListeningSpec, Person, Role, Room
from tasks.catalogue import load_catalogue
from tasks.cues import hearing
from tasks.cues.asked import asked_mixes, said_mixes
from tasks.cues.planning import Choice, Output, Phones, cues, load_ohm, players
from tasks.cues.sheet import load_in_words
from tasks.models import CueChoice, CuePlace
from tasks.reading import read
from tests.house import make_model, make_person, make_room, make_unit
from tests.tasks.floor_cast import BAND, QUARTET, stations_of
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
PHONES = [Phones(f"HP-{n}", "Earcap", 80, True) for n in range(1, 9)]
CLUSTER = [Output("Cluster", n, 16, alone=False) for n in range(1, 7)]
OWN = [Output(f"Own {n}", 1, 32, alone=True) for n in range(1, 4)]


def test_a_lead_singer_and_a_drummer_have_a_mix_of_their_own() -> None:
    """Common practice, no single source."""
    made = cues(players(stations_of(BAND), {}, {}), [*CLUSTER, *OWN], PHONES)
    found = {cue.player: cue for cue in made}
    assert "Click" not in found
    assert found["Lead vocal"].mix == "Lead vocal"
    assert found["Drums"].mix == "Drums"
    assert {found[name].mix for name in ("Bass", "Electric guitar", "Backing vocal 1")} == {"Band"}
    assert {found[name].output.unit for name in ("Lead vocal", "Drums")} == {"Own 1", "Own 2"}  # type: ignore[union-attr]
    assert all(cue.output and cue.phones and not cue.why for cue in made)
    assert len({cue.output for cue in made}) == len({cue.phones for cue in made}) == len(made)


def test_an_acoustic_ensemble_and_a_choir_play_without_unless_there_is_a_click() -> None:
    """Common practice, no single source."""
    assert all(player.without for player in players(stations_of(QUARTET), {}, {}))
    assert not any(player.without for player in players(stations_of(QUARTET + ", click"), {}, {}))


def test_a_choice_and_the_list_go_before_what_is_usual() -> None:
    text = BAND + "\n\nMonitor mixes:\nMix 1: lead vocal\nMix 2: bass"
    catalogue = load_catalogue()
    stations = stations_of(BAND)
    said = said_mixes(read(text, catalogue).not_inputs)
    asked = asked_mixes(said, stations, lambda words: read(words, catalogue).sources)
    assert asked == {"Lead vocal": "Mix 1", "Bass": "Mix 2"}
    chosen = {"Bass": Choice("Low"), "Grand piano": Choice(wears=False)}
    found = {player.name: player for player in players(stations, asked, chosen)}
    assert found["Lead vocal"].mix == "Mix 1"
    assert found["Bass"].mix == "Low"
    assert found["Grand piano"].without


def test_who_shares_an_output_has_the_same_mix_and_the_load_stays_above_the_least() -> None:
    """By hand: 80 ohm twice in parallel is 40 ohm, three times 26.7 ohm (sum of the reciprocals)."""
    stations = stations_of("4 backing vocals")
    one = [Output("Amp", 1, 32, alone=True)]
    made = cues(players(stations, {}, {}), one, PHONES)
    fed = [cue for cue in made if cue.output]
    assert len(fed) == 2
    assert load_ohm([cue.phones for cue in fed]) == pytest.approx(40)
    assert load_in_words(fed[0], made) == "40 ohm, 2 pairs in parallel; at least 32"
    assert all("No output is free" in cue.why for cue in made[2:])
    assert load_ohm(PHONES[:3]) == pytest.approx(26.67, abs=0.01)


def test_closed_headphones_go_to_microphones_and_what_lacks_is_said() -> None:
    stations = stations_of("bass DI\nlead vocal")
    phones = [Phones("Open", "Airy", 250, False), Phones("Shut", "Earcap", 80, True)]
    found = {cue.player: cue for cue in cues(players(stations, {}, {}), CLUSTER, phones)}
    assert found["Lead vocal"].phones == phones[1]
    assert found["Bass"].phones == phones[0]
    alone = cues(players(stations_of("lead vocal"), {}, {}), CLUSTER, phones[:1])
    assert "Open headphones" in alone[0].why
    assert "No headphones are free" in cues(players(stations, {}, {}), CLUSTER, [])[0].why


@given(st.integers(0, 8), st.integers(0, 6), st.integers(0, 8))
def test_no_pair_is_given_twice_and_no_output_carries_two_mixes(
    pairs: int, outputs: int, singers: int
) -> None:
    text = "\n".join(["drums", "lead vocal", *["backing vocal"] * singers])
    made = cues(players(stations_of(text), {}, {}), CLUSTER[:outputs], PHONES[:pairs])
    given_pairs = [cue.phones for cue in made if cue.phones]
    assert len(given_pairs) == len(set(given_pairs))
    for output in {cue.output for cue in made if cue.output}:
        assert len({cue.mix for cue in made if cue.output == output}) == 1


@pytest.mark.parametrize(
    ("level", "hours"), [(85, 8), (88, 4), (91, 2), (94, 1), (97, 0.5), (100, 0.25), (105, 0.08)]
)
def test_3_db_more_halve_the_time(level: float, hours: float) -> None:
    """Times equal to 85 dB(A) for 8 h, as an EU scientific opinion on personal music players prints them (rounded)."""
    assert hearing.hours_at(level) == pytest.approx(hours, rel=0.03)


def test_a_day_in_parts_and_the_directives_values() -> None:
    """1 h at 94, 3 h at 88 and 4 h at 82 dB(A) make 87.99 dB(A), over the limit of 87 (Directive 2003/10/EC, Article 3;
    computed from 10·log10((1/8)·Σ t·10^(L/10)))."""
    assert hearing.daily_exposure_db([(94, 1), (88, 3), (82, 4)]) == pytest.approx(87.99, abs=0.005)
    assert (hearing.LOWER_DB, hearing.UPPER_DB, hearing.LIMIT_DB) == (80, 85, 87)
    assert hearing.level_db(85, 4) == pytest.approx(88.01, abs=0.01)
    assert hearing.headphone_level_db(98, 10) == pytest.approx(108)
    with pytest.raises(ValueError, match="time"):
        hearing.level_db(85, 0)


@pytest.fixture
def _frozen() -> Iterator[None]:
    with time_machine.travel(MONDAY, tick=False):
        yield


@pytest.fixture
def trolley() -> list[GearUnit]:
    amp = make_model(GearModel.Kind.HEADPHONE_AMP, "Cluster", channels=2)
    ListeningSpec.objects.create(gear_model=amp, impedance_ohm=10, least_load_ohm=16)
    pair = make_model(GearModel.Kind.HEADPHONES, "Earcap")
    ListeningSpec.objects.create(gear_model=pair, impedance_ohm=80)
    return [make_unit("Cluster 1", amp), make_unit("HP-1", pair), make_unit("HP-2", pair)]


@pytest.mark.django_db
@pytest.mark.usefixtures("_frozen")
def test_a_session_claims_its_headphones_and_the_next_room_does_without(
    job: Job, hall: Room, manager: Person, trolley: list[GearUnit]
) -> None:
    session = book(manager, draft(job, hall, "lead vocal\ntrumpet"))
    taken = set(Claim.objects.of(session).values_list("resource__name", flat=True))
    assert {"Cluster 1", "HP-1", "HP-2"} <= taken
    titles = list(session.tasks.values_list("title", flat=True))
    assert "Headphones to 2 players, labelled, level down" in titles
    assert any("headphones and their amplifiers back" in title for title in titles)
    browser = Browser()
    browser.force_login(manager)
    page = browser.get(f"/sessions/{session.pk}/headphones").content.decode()
    assert "Cluster 1 output 1" in page
    assert "80 ohm; at least 16" in page
    assert "Directive 2003/10/EC" in page
    other = book(manager, draft(job, make_room("Loft"), "click\nsynth line"))
    assert "No headphones are free" in other.plan.cues.get().why


@pytest.mark.django_db
@pytest.mark.usefixtures("_frozen")
def test_a_mix_chosen_by_hand_stays_and_only_who_plans_chooses(
    job: Job, hall: Room, manager: Person, trolley: list[GearUnit]
) -> None:
    session = book(manager, draft(job, hall, "lead vocal\ntrumpet"))
    address, browser = f"/sessions/{session.pk}/headphones", Browser()
    browser.force_login(manager)
    names = [part.split('"')[0] for part in browser.get(address).content.decode().split('name="cue-')[1:]]
    typed = {f"cue-{names[0]}": "Quiet", f"cue-{names[1]}": "none"}
    assert browser.post(address, typed).status_code == 302
    rows = CuePlace.objects.filter(plan__session=session)
    assert [(row.mix, row.headphones is None) for row in rows] == [("Quiet", False), ("", True)]
    assert browser.post(address, {f"cue-{names[0]}": "x" * 41}).status_code == 422
    helper = Browser()
    helper.force_login(make_person(Role.ASSISTANT))
    assert helper.post(address, {f"cue-{names[0]}": "Loud"}).status_code == 403
    assert browser.post(address, dict.fromkeys(typed, "")).status_code == 302
    assert not CueChoice.objects.exists()
