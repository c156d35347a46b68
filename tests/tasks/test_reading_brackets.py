"""A kit whose pieces stand in brackets: a word that belongs to one piece never swallows those after it."""

from __future__ import annotations

import pytest

from tasks.catalogue import load_catalogue
from tasks.reading import read


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        (
            "drums (kick, snare top + bottom, hats, 2 rack toms)",
            ["kick", "snare top + bottom", "hats", "2 rack toms"],
        ),
        ("drums (snare top/bottom, hats)", ["snare top/bottom", "hats"]),
        (
            "Schlagzeug (Bassdrum in/out, Snare oben/unten, HiHat)",
            ["Bassdrum in/out", "Snare oben/unten", "HiHat"],
        ),
        (
            "batería (bombo, caja arriba y abajo, charles, 2 toms)",
            ["bombo", "caja arriba y abajo", "charles", "2 toms"],
        ),
        ("kick\nhats\n3 toms", ["kick", "hats", "3 toms"]),
    ],
)
def test_each_piece_is_a_source(text: str, pieces: list[str]) -> None:
    reading = read(text, load_catalogue())
    assert [source.as_written for source in reading.sources] == pieces
    assert not reading.questions
