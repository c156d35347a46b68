"""The gain to begin with: its arithmetic, its range and steps, and the corner that a preamp offers."""

from __future__ import annotations

import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st

from bookings.booking import book
from bookings.models import Job
from studio.electrics import microphone_dbu
from studio.models import MicrophoneSpec, Person, PreampSpec, Room
from tasks.gains import Input, nearest_corner, starting_gain
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]


def test_a_worked_example() -> None:
    """94 dB SPL is 1 Pa (IEC 61094-1), so 20 mV/Pa gives 20 mV, -31.76 dBu re 0.7746 V (ITU-R V.574); a peak of
    110 dB SPL gives -15.76 dBu. 0 dBu at -18 dBFS (EBU R 68) and 10 dB of margin want 8 dBu: 23.76 dB,
    and 23 in whole steps."""
    found = starting_gain(Input(110, 20), full_scale_dbu=18, margin_db=10)
    assert found is not None
    assert found.gain_db == 23
    assert found.arithmetic[0] == "peaks of 110 dB SPL on 20 mV/Pa give -15.8 dBu"
    assert found.arithmetic[-1] == "23.8 dB of gain, set to 23 dB"


def test_the_load_of_a_switched_input_is_made_up_for() -> None:
    """200 ohm into 300 ohm costs 4.437 dB: 20 log10(Zl / (Zs + Zl)) (computed)."""
    plain = starting_gain(Input(110, 20, step_db=0.001), 18, 10)
    loaded = starting_gain(Input(110, 20, source_ohm=200, load_ohm=300, step_db=0.001), 18, 10)
    assert plain is not None
    assert loaded is not None
    assert loaded.gain_db - plain.gain_db == pytest.approx(4.437, abs=0.1)
    assert "200 ohm into 300 ohm costs 4.4 dB" in loaded.arithmetic


def test_a_range_that_is_too_short_is_said() -> None:
    quiet = starting_gain(Input(60, 2, most_gain_db=60), 18, 10)
    loud = starting_gain(Input(140, 30, least_gain_db=12), 18, 10)
    assert quiet is not None
    assert (quiet.gain_db, quiet.short_db) == (60, 33.8)
    assert "the preamp gives 60 dB at most: 33.8 dB are left to make up later" in quiet.arithmetic
    assert loud is not None
    assert loud.gain_db == 12
    assert "less than the preamp's least gain" in loud.arithmetic[-1]


@given(
    st.floats(40, 160),
    st.floats(0.1, 60),
    st.sampled_from([0.0, 10.0, 20.0]),
    st.sampled_from([None, 1.0, 1.5, 3.0, 5.0]),
)
def test_peaks_never_come_out_hotter_than_wanted_but_for_the_least_gain(
    peak: float, sensitivity: float, pad: float, step: float | None
) -> None:
    given_ = Input(peak, sensitivity, pad, least_gain_db=10, most_gain_db=65, step_db=step)
    found = starting_gain(given_, 18, 10)
    assert found is not None
    assert 10 <= found.gain_db <= 65
    out = microphone_dbu(peak, sensitivity, pad) + found.gain_db
    assert out <= 8 + 0.05 or found.gain_db == 10
    assert (found.gain_db - 10) / (step or 1) == pytest.approx(
        round((found.gain_db - 10) / (step or 1)), abs=1e-6
    )


def test_the_pad_of_the_preamp_is_in_where_its_least_gain_is_too_much() -> None:
    """2 mV/Pa is −51.76 dBu at 94 dB SPL (0 dBu is 0.7746 V), so −11.76 dBu at 134: 19.8 dB to 8 dBu; of 30 dB at least
    with a pad of 20 dB, 39.8 dB."""
    loud = Input(134, 2, least_gain_db=30, most_gain_db=66, preamp_pad_db=20)
    found = starting_gain(loud, 18, 10)
    assert found is not None
    assert found.gain_db == 39
    assert "the preamp's pad in, 20 dB: it gives 30 dB at least without" in found.arithmetic
    assert "39.8 dB of gain, set to 39 dB" in found.arithmetic


@pytest.mark.parametrize(
    ("wanted", "corners", "found"),
    [(80, [45, 70], 70), (60, [45, 70], 45), (40, [45, 70], 0), (80, [], 80), (0, [45], 0)],
)
def test_a_corner_never_lies_above_what_the_source_bears(
    wanted: float, corners: list[float], found: float
) -> None:
    """Corners such as 45 or 70 Hz: common practice, no single source."""
    assert nearest_corner(wanted, corners) == found


@pytest.mark.django_db
def test_the_plan_the_checklist_and_the_papers_carry_it(job: Job, hall: Room, manager: Person) -> None:
    MicrophoneSpec.objects.update(sensitivity_mv_pa=20, output_ohm=200)
    PreampSpec.objects.update(input_ohms="1200 300", high_pass_hz="45 70", gain_step_db=5, gain_min_db=10)
    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, hall, "lead vocal\nbass DI"))
    vocal, bass = session.plan.inputs.all()
    assert vocal.gain_db is not None
    assert (vocal.gain_db - 10) % 5 == 0
    assert vocal.high_pass_hz in (45, 70)
    assert any("200 ohm into 1200 ohm costs 1.3 dB" in step for step in vocal.gain_said)
    assert (bass.gain_db, bass.gain_said) == (None, [])
    details = [tuple(pair) for task in session.tasks.all() for pair in task.details]
    assert ("Gain", f"{vocal.gain_db:g} dB to begin with") in details
