"""Input list, patch sheet, what to fetch, counts and storage; what has changed since somebody last looked."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine
from django.test import Client as Browser
from hypothesis import given
from hypothesis import strategies as st

from bookings.booking import book, change
from bookings.models import Job, Session
from studio.models import MicrophoneSpec, Person, Phantom, Role, Room
from tasks.papers import sheets
from tasks.papers.reading import look_at, readers, rows_of
from tasks.papers.storage import RIFF_LIMIT_BYTES, Recording, clock
from tests.house import at, make_mic, make_person, make_preamp, make_room, make_stock
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]


# fs·bits/8·3600, computed: Hz, bits, bytes a track and hour, MiB.
HOURS = [
    (44_100, 16, 317_520_000, 302.81), (44_100, 24, 476_280_000, 454.22), (44_100, 32, 635_040_000, 605.62),
    (48_000, 16, 345_600_000, 329.59), (48_000, 24, 518_400_000, 494.38), (48_000, 32, 691_200_000, 659.18),
    (88_200, 16, 635_040_000, 605.62), (88_200, 24, 952_560_000, 908.43), (88_200, 32, 1_270_080_000, 1211.24),
    (96_000, 16, 691_200_000, 659.18), (96_000, 24, 1_036_800_000, 988.77), (96_000, 32, 1_382_400_000, 1318.36),
    (192_000, 16, 1_382_400_000, 1318.36), (192_000, 24, 2_073_600_000, 1977.54),
    (192_000, 32, 2_764_800_000, 2636.72),
]  # fmt: skip


@pytest.mark.parametrize(("rate_hz", "depth_bits", "size", "mebibytes"), HOURS)
def test_a_track_hour_is_rate_times_depth(rate_hz: int, depth_bits: int, size: int, mebibytes: float) -> None:
    assert Recording(1, rate_hz, depth_bits, 1).bytes_a_track_hour == size
    assert size / 2**20 == pytest.approx(mebibytes, abs=0.01)


# A field recorder's user guide, recording-time table, in 2^20 bytes a minute.
MINUTES = [
    (44_100, 16, 5.05),
    (48_000, 16, 5.49),
    (48_000, 24, 8.24),
    (96_000, 24, 16.5),
    (192_000, 24, 33.0),
]


@pytest.mark.parametrize(("rate_hz", "depth_bits", "mebibytes"), MINUTES)
def test_a_track_minute_is_what_a_recorder_prints(rate_hz: int, depth_bits: int, mebibytes: float) -> None:
    within = 0.005 if mebibytes < 10 else 0.05  # as many places as are printed
    assert Recording(1, rate_hz, depth_bits, 1).bytes_a_track_hour / 60 / 2**20 == pytest.approx(
        mebibytes, abs=within
    )


# Until the 32 bits of the size field are full (EBU Tech 3306, 2007): Hz, bits, channels, seconds computed without
# headers, and h:mm truncated. The first six h:mm are printed in an audio editor's manual (WAV size-limit table), the
# 11 minutes in an open-source player's wiki on 64-bit WAVE; the others are computed.
FULL = [
    (44_100, 16, 2, 24347.9, "6:45"), (44_100, 16, 1, 48695.8, "13:31"), (44_100, 24, 2, 16231.9, "4:30"),
    (44_100, 24, 1, 32463.8, "9:01"), (44_100, 32, 2, 12173.9, "3:22"), (44_100, 32, 1, 24347.9, "6:45"),
    (48_000, 24, 1, 29826.2, "8:17"), (48_000, 24, 2, 14913.1, "4:08"), (48_000, 24, 24, 1242.8, "0:20"),
    (48_000, 24, 32, 932.1, "0:15"), (96_000, 24, 1, 14913.1, "4:08"), (96_000, 24, 2, 7456.5, "2:04"),
    (96_000, 24, 24, 621.4, "0:10"), (96_000, 32, 2, 5592.4, "1:33"), (192_000, 24, 1, 7456.5, "2:04"),
    (192_000, 24, 2, 3728.3, "1:02"), (192_000, 32, 8, 699.1, "0:11"),
]  # fmt: skip


@pytest.mark.parametrize(("rate_hz", "depth_bits", "channels", "seconds", "until"), FULL)
def test_a_file_is_full_at_4_gib(
    rate_hz: int, depth_bits: int, channels: int, seconds: float, until: str
) -> None:
    full = Recording(1, rate_hz, depth_bits, 1).until_full(channels)
    assert full.total_seconds() == pytest.approx(seconds, abs=0.1)
    assert clock(full) == until


def test_24_tracks_for_6_hours_at_96_khz_are_149_gb_and_three_copies_448() -> None:
    """Computed: 24 * 96000 * 3 * 21600 byte; three copies by the rule 3-2-1 (The DAM Book, 2005, as credited)."""
    found = Recording(24, 96_000, 24, 6, copies=3)
    assert found.gigabytes == pytest.approx(149.2992)
    assert found.gigabytes_with_copies == pytest.approx(447.8976)
    assert found.needs_long_files
    assert not Recording(24, 48_000, 24, 8).needs_long_files


@given(
    st.integers(1, 512),
    st.sampled_from([44_100, 48_000, 192_000]),
    st.sampled_from([16, 24, 32]),
    st.floats(0.1, 400),
)
def test_a_file_outgrows_riff_just_when_its_bytes_do(
    tracks: int, rate: int, depth: int, hours: float
) -> None:
    found = Recording(tracks, rate, depth, hours)
    size = rate * depth / 8 * hours * 3600
    assert found.needs_long_files == (size > RIFF_LIMIT_BYTES) or size == pytest.approx(RIFF_LIMIT_BYTES)


def row(number: int, label: str = "Snare", **fields: object) -> sheets.Row:
    said: dict[str, object] = {
        "number": number,
        "label": label,
        "pickup": "mic",
        "unit": f"D-{number}",
        "unit_model": "Ashby 2",
        "unit_place": "Weaving Hall, cupboard 1",
        "unit_input": 1,
        "stand": "tall boom",
        "line": number,
        "preamp": "Oak",
        "preamp_channel": number,
        "preamp_place": "",
        "phantom": False,
        "pad": False,
        "recorder_input": number,
    }
    return sheets.Row(**{**said, **fields})  # type: ignore[arg-type]


def test_what_to_fetch_goes_by_place_and_names_a_box_with_two_inputs_once() -> None:
    box = {"unit": "Box-1", "unit_model": "Twin", "unit_place": "Store", "pickup": "di", "stand": "none"}
    rows = [
        row(1),
        row(2, "Keys L", **box),
        row(3, "Keys R", unit_input=2, **box),
        row(4, preamp_place="Loft"),
    ]
    assert [(r[0], r[1], r[3]) for r in sheets.pull_list(rows).rows] == [
        ("Loft", "Oak", "4 Snare"),
        ("Store", "Box-1", "2 Keys L, 3 Keys R"),
        ("Weaving Hall, cupboard 1", "D-1", "1 Snare"),
        ("Weaving Hall, cupboard 1", "D-4", "4 Snare"),
    ]


def test_counts_hold_a_spare_for_each_ten_begun() -> None:
    rows = [row(n) for n in range(1, 12)] + [row(12, pickup="line", unit="", stand="none", preamp="")]
    assert sheets.counts(rows).rows == (
        ("stand, tall boom", "11", "2"),
        ("microphone cable", "11", "2"),
        ("line cable", "1", "1"),
    )


def test_cables_that_are_counted_stand_by_length() -> None:
    rows = [replace(row(n), cable="XLR 5 m" if n < 3 else "XLR 10 m") for n in range(1, 14)]
    cables = [line for line in sheets.counts(rows).rows if "cable" in line[0]]
    assert cables == [("microphone cable, XLR 10 m", "11", "2"), ("microphone cable, XLR 5 m", "2", "1")]


def test_what_changed_is_said_source_by_source_whatever_its_number() -> None:
    before = sheets.input_list([row(1, "Kick"), row(2), row(3)]).rows
    now = sheets.input_list([row(1), row(2, phantom=True), row(3, "Tambourine")]).rows
    assert list(sheets.differences(before, now)) == [
        "1 Snare: input 1 instead of 2, with D-1 (Ashby 2) instead of D-2 (Ashby 2), line 1 instead of 2, "
        "preamp Oak channel 1 instead of Oak channel 2, recorder input 1 instead of 2.",
        "2 Snare: input 2 instead of 3, with D-2 (Ashby 2) instead of D-3 (Ashby 2), line 2 instead of 3, "
        "preamp Oak channel 2 instead of Oak channel 3, phantom on instead of off, recorder input 2 instead of 3.",
        "New: 3 Tambourine, D-3 (Ashby 2), line 3, Oak channel 3, phantom off.",
        "No longer: 1 Kick.",
    ]


ROWS = st.lists(st.sampled_from(["Kick", "Snare", "Tom"]), max_size=6)


@given(ROWS, ROWS)
def test_the_same_list_has_no_news_and_another_one_has(before: list[str], now: list[str]) -> None:
    lists = [
        sheets.input_list([row(n, label) for n, label in enumerate(each, 1)]).rows for each in (before, now)
    ]
    assert bool(list(sheets.differences(*lists))) == (before != now)


@pytest.mark.django_db
def test_everybody_hears_first_what_changed_since_they_last_looked(
    job: Job, hall: Room, manager: Person
) -> None:
    ines = make_person(Role.ASSISTANT, name="Ines")
    with time_machine.travel(MONDAY, tick=False) as clock_:
        from tests.bookings.cast import called

        session = book(manager, draft(job, hall, "lead vocal\ntrumpet", crew=(called(ines, Role.ASSISTANT),)))
        assert [each.up_to_date for each in readers(session, rows_of(session))] == [False]
        assert look_at(session, ines, rows_of(session)).since is None
        clock_.shift(timedelta(hours=1))
        assert look_at(session, ines, rows_of(session)).changes == []
        text = "lead vocal\ntrumpet\ntambourine"
        change(
            manager, session.pk, session.version, draft(job, hall, text, crew=(called(ines, Role.ASSISTANT),))
        )
        session = Session.objects.with_all().get()
        assert [each.up_to_date for each in readers(session, rows_of(session))] == [False]
        browser = Browser()
        browser.force_login(ines)
        page = browser.get(f"/sessions/{session.pk}/papers").content.decode()
        assert "Changed since you last looked" in page
        assert "New: 3 Tambourine" in page
        assert "has seen it as it is" in page
        assert "True at Mon 1 March, 10:00" in page
        again = browser.get(f"/sessions/{session.pk}/papers").content.decode()
        assert "Nothing has changed since you last looked" in again


@pytest.mark.django_db
def test_papers_answer_what_is_typed_and_hold_nothing_that_a_spreadsheet_computes(
    manager: Person, job: Job
) -> None:
    room = make_room("Hall")
    make_preamp("=Oak", 2, home_room=room)
    make_mic("D-1", MicrophoneSpec.Transducer.LARGE_CONDENSER, Phantom.NEEDS, max_spl_db=150)
    make_stock("tall boom", 6)
    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, room, "lead vocal"))
        browser = Browser()
        browser.force_login(manager)
        response = browser.get(f"/sessions/{session.pk}/papers/patch.csv")
        heading, line = csv.reader(io.StringIO(response.content.decode("utf-8-sig")))
        assert heading == ["Line", "Preamp", "Inserts", "Recorder", "Source"]
        assert line[:2] == ["1", "'=Oak channel 1"]
        assert line[3:] == ["input 1", "1 Lead vocal"]
        assert browser.get(f"/sessions/{session.pk}/papers/nothing.csv").status_code == 404
        page = browser.get(f"/sessions/{session.pk}/papers?rate=96000&tracks=24&hours=6")
        assert "149.3 GB" in page.content.decode()
        for typed in ("hours=x", "hours=nan", "hours=-1", "rate=1", "tracks=" + "9" * 40):
            page = browser.get(f"/sessions/{session.pk}/papers?{typed}")
            assert page.status_code == 200
            assert 'class="error"' in page.content.decode()


@pytest.mark.django_db
def test_the_papers_ask_equally_often_however_long_the_list(
    job: Job, hall: Room, manager: Person, django_assert_max_num_queries: object
) -> None:
    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, hall, "lead vocal\nsnare top\nrack tom\ntrumpet\nbass DI"))
        assert at("2027-03-02 10:00") == session.downbeat
        with django_assert_max_num_queries(4):  # type: ignore[operator]
            assert len(rows_of(session)) == 5
