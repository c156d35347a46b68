"""The phone page: which session is today's, what comes next, and ticks that are saved at once."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from bookings.booking import Called, Draft, book
from bookings.models import Client as BookingClient
from bookings.models import Job, Session
from studio.models import Person, Role, Room
from tasks.day.agenda import current, sessions_of, worklist
from tasks.models import Task
from tests.house import at, make_mic, make_person, make_preamp, make_room, make_stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def hall() -> Room:
    room = make_room("Weaving Hall", setup_minutes=60, turnaround_minutes=30)
    make_preamp("Oak", 8, home_room=room)
    for _ in range(4):
        make_mic(transducer="large condenser", phantom="needs", max_spl_db=150)
    make_stock("tall boom", 6)
    return room


@pytest.fixture
def ines() -> Person:
    return make_person(Role.ASSISTANT, name="Ines Kaya")


def booked(
    hall: Room, assistant: Person | None, start: str, hours: float = 4, title: str = "Vocals"
) -> Session:
    client, _ = BookingClient.objects.get_or_create(name="Tin Harbour")
    job, _ = Job.objects.get_or_create(client=client, title="Second record")
    downbeat = at(start)
    crew = (Called(assistant.pk, Role.ASSISTANT),) if assistant else ()
    draft = Draft(job.pk, hall, title, downbeat, downbeat, downbeat + timedelta(hours=hours), crew,
                  instrument_list="2 lead vocals")  # fmt: skip
    return book(make_person(Role.MANAGER), draft)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def my_day(person: Person) -> str:
    return signed_in(person).get(reverse("tasks:my_day")).content.decode()


@pytest.mark.parametrize(
    ("now", "shown"),
    [
        ("2027-03-02 07:00", "Day one"),  # the morning of the first
        ("2027-03-02 23:30", "Night"),  # under way
        ("2027-03-03 01:30", "Night"),  # past midnight it is still last evening's
        ("2027-03-03 05:00", "Nothing for you today"),
        ("2027-03-04 00:01", "Nothing for you today"),
    ],
)
def test_today_is_the_sessions_day(hall: Room, ines: Person, now: str, shown: str) -> None:
    with time_machine.travel(at("2027-03-01 09:00"), tick=False):
        booked(hall, ines, "2027-03-02 10:00", title="Day one")
        booked(hall, ines, "2027-03-02 22:00", title="Night")
    with time_machine.travel(at(now), tick=False):
        assert f"<h1>{shown}</h1>" in my_day(ines)


def test_an_empty_day_says_what_comes_next(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-01 09:00"), tick=False):
        booked(hall, ines, "2027-03-05 10:00", title="Harp")
        page = my_day(ines)
    assert "Your next session is" in page
    assert "Harp" in page
    assert "Fri 5 March, 10:00" in page


@pytest.mark.parametrize(
    ("day", "late"), [("2026-03-28", "2026-03-29 00:30"), ("2026-10-24", "2026-10-25 00:30")]
)
def test_the_day_ends_at_midnight_on_the_sites_clock_on_change_nights_too(
    hall: Room, ines: Person, day: str, late: str
) -> None:
    with time_machine.travel(at(f"{day} 06:00"), tick=False):
        session = booked(hall, ines, f"{day} 20:00", hours=8)  # through the change
        assert session.end - session.downbeat == timedelta(hours=8)
    with time_machine.travel(at(late), tick=False):
        assert sessions_of(ines, timezone.now()) == [session]


def test_the_session_that_is_not_over_opens_first(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 06:00"), tick=False):
        first = booked(hall, ines, "2027-03-02 08:00", hours=2)
        second = booked(hall, ines, "2027-03-02 13:00", hours=2)

    def opened(now: datetime) -> Session | None:
        return current(sessions_of(ines, now), now)

    assert opened(at("2027-03-02 09:00")) == first
    assert opened(at("2027-03-02 11:00")) == second
    assert opened(at("2027-03-02 23:00")) == second


def test_the_next_task_is_the_first_of_mine_that_is_open_and_not_stuck(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        tasks = list(session.tasks.all())
        Task.objects.filter(pk=tasks[0].pk).update(problem="the lamp is dead")
        assert worklist(session, ines).next == tasks[1]
        Task.objects.exclude(pk=tasks[0].pk).exclude(stage="breakdown").update(done_at=timezone.now())
        assert worklist(session, ines).next == tasks[0]
        Task.objects.exclude(stage="breakdown").update(done_at=timezone.now())
        assert worklist(session, ines).next.stage == "breakdown"
        Task.objects.update(done_at=timezone.now())
        assert worklist(session, ines).next is None


def test_more_work_than_time_is_said(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        assert not worklist(session, ines).tight
    with time_machine.travel(at("2027-03-02 09:50"), tick=False):
        assert worklist(session, ines).tight
        assert "more work than time" in my_day(ines)


def test_a_tick_pressed_twice_is_one_tick_and_the_answer_shows_it(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        task = session.tasks.first()
        client = signed_in(ines)
        for _ in range(2):
            answer = client.post(
                reverse("tasks:tick", args=[task.pk]), {"state": "done"}, headers={"HX-Request": "true"}
            )
        assert answer.status_code == 200
        assert "by you" in answer.content.decode()
        assert session.tasks.filter(done_at__isnull=False).count() == 1


def test_without_scripts_a_tick_leads_back_to_the_list(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        task = session.tasks.first()
        answer = signed_in(ines).post(reverse("tasks:tick", args=[task.pk]), {"state": "done"})
    assert answer.status_code == 302
    assert answer["Location"] == f"/sessions/{session.pk}/checklist#task-{task.pk}"


def test_an_unchanged_list_is_not_sent_again_and_a_changed_one_is(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        client, address = signed_in(ines), reverse("tasks:live", args=[session.pk])
        mark = worklist(session, ines).mark
        assert client.get(address, {"mark": mark}).status_code == 204
        Task.objects.filter(pk=session.tasks.first().pk).update(done_at=timezone.now())
        assert client.get(address, {"mark": mark}).status_code == 200


def test_a_problem_is_kept_in_the_words_given_and_seen_on_the_sessions_page(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        task = session.tasks.first()
        words = "Lamp <dead> & “smells” 🔥"
        signed_in(ines).post(reverse("tasks:tick", args=[task.pk]), {"state": "problem", "words": words})
        task.refresh_from_db()
        assert task.problem == words
        page = signed_in(make_person(Role.MANAGER)).get(reverse("tasks:session_parts", args=[session.pk]))
    assert "Lamp &lt;dead&gt; &amp; “smells” 🔥" in page.content.decode()


def test_what_can_not_be_seen_is_left_out_of_a_problem(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        task = booked(hall, ines, "2027-03-02 10:00").tasks.first()
        words = "lamp\0 is\u202e dead\n"
        signed_in(ines).post(reverse("tasks:tick", args=[task.pk]), {"state": "problem", "words": words})
    task.refresh_from_db()
    assert task.problem == "lamp is dead"


def test_nonsense_is_refused_with_a_sentence_and_unknown_things_are_not_found(
    hall: Room, ines: Person
) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        client = signed_in(ines)
        answer = client.post(reverse("tasks:tick", args=[session.tasks.first().pk]), {"state": "toggle"})
        assert answer.status_code == 400
        assert "done, not done or a problem" in answer.content.decode()
        assert client.post(reverse("tasks:tick", args=[10**9]), {"state": "done"}).status_code == 404
        assert client.get(reverse("tasks:checklist", args=[10**9])).status_code == 404


def test_a_bench_tech_does_not_tick(hall: Room) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, None, "2027-03-02 10:00")
        client = signed_in(make_person(Role.TECH))
        answer = client.post(reverse("tasks:tick", args=[session.tasks.first().pk]), {"state": "done"})
    assert answer.status_code == 403
    assert not session.tasks.filter(done_at__isnull=False).exists()


def test_an_expired_sign_in_sends_a_fragment_to_the_sign_in_page_whole(hall: Room, ines: Person) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        address = reverse("tasks:live", args=[session.pk])
        answer = Client().get(address, headers={"HX-Request": "true"})
    assert answer.status_code == 204
    assert answer["HX-Redirect"].startswith("/sign-in")


def test_the_page_asks_equally_often_however_long_the_list_is(
    hall: Room, ines: Person, django_assert_max_num_queries: object
) -> None:
    with time_machine.travel(at("2027-03-02 08:00"), tick=False):
        session = booked(hall, ines, "2027-03-02 10:00")
        Task.objects.bulk_create(
            Task(session=session, key=f"more-{n}", stage="setup", order=100 + n, title=f"More {n}", minutes=1,
                 assignee=ines, done_by=ines, done_at=timezone.now())
            for n in range(200)
        )  # fmt: skip
        client = signed_in(ines)
        with django_assert_max_num_queries(12):
            assert client.get(reverse("tasks:my_day")).status_code == 200
