"""The files of a house: they fit together on any day, and what is wrong in them is said with its place."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from bookings.drafts import Draft
from bookings.models import Job, Session, SessionKind
from bookings.models.kinds import USUAL_KINDS
from bookings.series.planning import repeated
from studio.models import Person, Role, Room, Site
from studio.spans import Span
from tasks.demo import DATA, DemoError, load_house
from tasks.demo.diary import draft_of
from tasks.demo.entries import Entry, read_entries
from tasks.demo.house import House

FILES = read_entries(DATA)
MADE_OF = {entry.values["name"]: entry.values.get("parts", []) for entry in FILES["room"]}
calm = hypothesis_settings(deadline=None)  # other work on the machine isn't this test's business


def paper_house(now: datetime) -> tuple[House, list[Entry]]:
    """The files' rooms and people without a database, as far as a draft needs them."""
    house = House(now=now)
    for entry in FILES["site"]:
        house.sites[entry.values["name"]] = Site(**entry.values)
        house.kinds[entry.values["name"]] = {
            name: SessionKind(name=name, nature=nature) for name, nature, _, _ in USUAL_KINDS
        }
    for number, entry in enumerate(FILES["room"], start=1):
        values = {k: v for k, v in entry.values.items() if k not in ("parts", "quiet")} | {
            "site": house.sites[entry.values["site"]]
        }
        house.rooms[entry.values["name"]] = Room(pk=number, **values)
    for number, entry in enumerate(FILES["person"], start=1):
        person = house.people[entry.values["username"]] = Person(pk=number, name=entry.values["name"])
        person.__dict__["roles"] = frozenset(entry.values["roles"])
    for number, entry in enumerate(FILES["job"], start=1):
        house.jobs[entry.values["title"]] = Job(pk=number)
    return house, FILES["session"]


def parts_of(name: str) -> set[str]:
    return {name}.union(*(parts_of(part) for part in MADE_OF[name]))


def drafts_of(house: House, entry: Entry) -> list[Draft]:
    """One, or one for each time that it repeats."""
    draft, rule = draft_of(house, entry), entry.values.get("repeats")
    return [plan.draft for plan in repeated(draft, rule)] if rule else [draft]


def wanted_by(draft: Draft) -> Iterator[tuple[str, Span]]:
    for room in (draft.room, *draft.beside):
        for part in parts_of(room.name):
            yield part, draft.whole
    for called in draft.crew:
        for span in draft.calls_of(called):
            yield f"person {called.person_id}", span


@calm
@given(
    day=st.dates(date(2026, 1, 1), date(2032, 12, 31))
    | st.sampled_from([date(2027, 3, 28), date(2027, 10, 31), date(2026, 12, 31), date(2028, 2, 29)]),
    clock=st.times(),
)
def test_on_whatever_day_it_is_loaded_nobody_and_no_room_is_wanted_twice(day: date, clock: time) -> None:
    house, entries = paper_house(datetime.combine(day, clock, UTC))
    taken: dict[str, list[tuple[Span, str]]] = {}
    for entry in entries:
        if entry.values.get("status") == "held" or "cancelled_because" in entry.values:
            continue
        for draft in drafts_of(house, entry):
            for what, span in wanted_by(draft):
                for other, title in taken.get(what, []):
                    assert not span.overlaps(other), (what, title, draft.title)
                taken.setdefault(what, []).append((span, draft.title))


@calm
@given(day=st.dates(date(2026, 1, 1), date(2032, 12, 31)), clock=st.times())
def test_at_whatever_hour_it_is_loaded_a_session_of_today_with_an_assistant_is_not_over(
    day: date, clock: time
) -> None:
    now = datetime.combine(day, clock, ZoneInfo("Europe/Berlin")).astimezone(UTC)
    house, entries = paper_house(now)
    today = now.astimezone(ZoneInfo("Europe/Berlin")).date()
    drafts = [draft_of(house, entry) for entry in entries if entry.values["day"] == 0]
    assert any(
        draft.downbeat.date() == today
        and draft.end > now
        and any(c.role == Role.ASSISTANT for c in draft.crew)
        for draft in drafts
    )


SMALL = """
[[site]]
name = "Yard"
zone = "Europe/Berlin"
[[room]]
site = "Yard"
name = "Shed"
[[person]]
username = "ada"
name = "Ada Brook"
roles = ["manager", "assistant"]
site = "Yard"
[[microphone]]
maker = "Medlar"
name = "Twig 2"
transducer = "small condenser"
phantom = "needs"
[[units]]
model = "Medlar Twig 2"
tags = ["SC-01", "SC-02"]
site = "Yard"
[[fault]]
unit = "SC-02"
effect = "noisy"
since = { day = -1, at = "10:00" }
by = "ada"
[[client]]
name = "Ferns"
[[job]]
client = "Ferns"
title = "Album"
[[session]]
job = "Album"
title = "Day one"
room = "Shed"
day = 2
load_in = "20:00"
downbeat = "21:00"
end = "00:30"
crew = { assistant = ["ada"] }
"""


def put(folder: Path, text: str) -> Path:
    (folder / "all.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.mark.django_db
def test_a_house_of_ones_own_may_stand_in_one_file(tmp_path: Path) -> None:
    loaded = load_house(put(tmp_path, SMALL), tmp_path / "sign-in.txt")
    assert (loaded.units, loaded.faults, loaded.sessions) == (2, 1, 1)
    session = Session.objects.get()
    assert session.end - session.downbeat == timedelta(hours=3.5)
    assert (tmp_path / "sign-in.txt").read_text().startswith("ada  ")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('zone = "Europe/Berlin"', 'zone = "Berlin"', r"\[\[site\]\] number 1 \(Yard\): zone: .*IANA"),
        ('name = "Twig 2"', "", r"\[\[microphone\]\] number 1 \(no name\): name: This field cannot be blank"),
        ('name = "Shed"', 'name = "Shed"\nlanes = 4', "nothing is called 'lanes' here; use site, name"),
        ('name = "Shed"', 'name = "Shed"\nlines = "many"', r"\(Shed\): lines: .*integer"),
        ('name = "Shed"', 'name = "Shed"\nparts = ["Shed"]', "Shed is made of this room, or is this room"),
        ('"manager", "assistant"', '"assistant"', "Nobody is a manager"),
        ('"manager", "assistant"', '"boss"', "roles has 'boss'; use manager, engineer"),
        (
            'phantom = "needs"',
            'phantom = "yes"',
            "phantom: .*Use one of needs, must_not, indifferent, unknown",
        ),
        ('model = "Medlar Twig 2"', 'model = "Twig"', "no model is called 'Twig'; correct it or add one"),
        (
            '"SC-01", "SC-02"',
            '"SC-02", "sc-02"',
            r"number 1 \(Medlar Twig 2\): .*'sc-02' stands in the files twice",
        ),
        ('"SC-01", "SC-02"]', '"SC-01", "SC-02"]\nserials = ["1"]', "2 tags and 1 serials"),
        (
            'effect = "noisy"',
            'effect = "bad"',
            r"\[\[fault\]\] number 1 \(SC-02\): effect is 'bad'; use one of dead",
        ),
        ('effect = "noisy"', 'effect = "noisy"\nchannel = 3', "SC-02 has no channel 3; it has 0"),
        ("day = -1, ", "day = 1, ", "A fault can't begin in the future"),
        ('by = "ada"', 'by = "eve"', "no person is called 'eve'"),
        ('end = "00:30"', 'end = "half past"', "end is 'half past'; write a time like “09:30”"),
        ('end = "00:30"', 'end = "21:00"', "have to come in that order"),
        ("day = 2", 'day = "2"', "day is '2'; give a whole number"),
        ('title = "Day one"\n', "", "title is missing; add it"),
        ('{ assistant = ["ada"] }', '{ engineer = ["ada"] }', "ada is no engineer; add the role"),
        (
            '{ assistant = ["ada"] }',
            '{ assistant = ["ada"] }\nworked = ["09:00", "10:00"]',
            "worked is in the future",
        ),
        ("day = 2", 'day = 2\nkind = "disco"', "no kind of session is called 'disco'"),
        ("day = 2", 'day = 2\nbeside = ["Barn"]', "no room is called 'Barn'"),
        ("day = 2", 'day = 2\nhours = ["20:00"]', "hours holds two times"),
        ("day = 2", 'day = 2\nrepeats = "FREQ=NEVER"', r"\(Day one\): repeats is 'FREQ=NEVER'"),
        ("day = 2", 'day = 2\nrepeats = "FREQ=HOURLY;COUNT=3"', r"\(Day one\): repeats "),
        ("[[microphone]]", '[[pair]]\nrooms = ["Shed"]\n[[microphone]]', "rooms holds two rooms of one site"),
        ("[[client]]", "[[customer]]", r"all.toml: 'customer' is no table here; use \[\[site\]\], "),
        ("[[client]]", "[[client]", "all.toml: not readable as TOML .*line 27"),
    ],
)
def test_what_is_wrong_in_a_file_is_said_with_its_place_and_nothing_is_loaded(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    assert SMALL.count(old) >= 1
    with pytest.raises(DemoError, match=said):
        load_house(put(tmp_path, SMALL.replace(old, new, 1)), tmp_path / "sign-in.txt")
    assert not Site.objects.exists()
    assert not Person.objects.exists()
    assert not (tmp_path / "sign-in.txt").exists()


@pytest.mark.django_db
def test_two_sessions_in_one_room_are_refused_in_the_words_of_the_board(tmp_path: Path) -> None:
    session = SMALL[SMALL.index("[[session]]") :]
    twice = SMALL + session.replace("Day one", "Day two").replace('crew = { assistant = ["ada"] }', "")
    with pytest.raises(DemoError, match=r"\[\[session\]\] number 2 \(Day two\): Shed is taken: “Day one”"):
        load_house(put(tmp_path, twice), tmp_path / "sign-in.txt")


def test_a_folder_without_files_is_named(tmp_path: Path) -> None:
    with pytest.raises(DemoError, match=r"No \.toml file stands in"):
        read_entries(tmp_path)
