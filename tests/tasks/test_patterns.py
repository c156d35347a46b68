"""Polar patterns as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tasks.patterns import SPELT, patterns_in


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("cardioid, omni, figure of eight", ("cardioid", "omni", "figure-of-eight")),
        ("figure-8", ("figure-of-eight",)),
        ("Kugel / Niere / Acht", ("omni", "cardioid", "figure-of-eight")),
        ("supercardioid", ("supercardioid",)),
        ("wide cardioid", ("wide cardioid",)),
        ("cardioid (17 cm at 110 degrees or 30 cm at 90 degrees) or omni", ("cardioid", "omni")),
        ("figure-of-eight-like", ("figure-of-eight",)),
        ("", ()),
    ],
)
def test_patterns_are_known_however_they_are_written(text: str, found: tuple[str, ...]) -> None:
    """Spellings: common practice, no single source."""
    assert patterns_in(text) == found


@given(st.permutations(sorted(SPELT)))
def test_a_row_of_names_is_read_back(names: list[str]) -> None:
    assert patterns_in(", ".join(names)) == tuple(names)
