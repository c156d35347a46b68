"""A small helping of what `python -m tests.many_houses 1000` looks at."""

from __future__ import annotations

from dataclasses import replace

from tasks.planning.plan import plan
from tasks.planning.snapshot import Switching
from tests.many_houses import given_twice, tally_of
from tests.tasks.planning_houses import house, mic, mic_need, preamp


def test_overlapping_sessions_in_generated_houses_break_no_rule() -> None:
    found = tally_of(25)
    assert found.houses >= 25
    assert found.broken == []
    assert found.filled > 25
    assert found.faults
    assert found.not_proven == 0


def test_what_is_given_twice_is_seen() -> None:
    whole = house([mic_need(1, stand="clip")], [mic("D-1")], [preamp("P-1", 2, Switching.PER_CHANNEL)])
    made = plan(whole)
    told = list(given_twice(replace(whole, stands={"clip": 1}), [made, made]))
    assert told == [
        "D-1 is given to both sessions",
        "P-1 is given to both sessions",
        "2 of clip are given to two sessions and 1 are free",
    ]
