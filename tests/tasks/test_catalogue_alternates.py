"""Other ways to pick up a source, and common practice that the catalogue must hold."""

from __future__ import annotations

import pytest

from tasks.catalogue import CatalogueError, load_catalogue
from tasks.catalogue.alternates import read_alternates

CATALOGUE = load_catalogue()
WITHOUT = {"keys", "organ", "electronics/playback", "talkback/utility", "ambience/room", "other"}


def test_players_of_every_family_that_moves_or_is_shy_have_another_way() -> None:
    """Keyboards, line sources and rooms don't move and aren't shy."""
    for source in CATALOGUE.sources:
        assert (source.family in WITHOUT) == (source.id not in CATALOGUE.alternates), source.id


def test_what_names_a_source_comes_before_what_names_its_family() -> None:
    moves = {source: CATALOGUE.alternates[source][0] for source in ("overheads", "tom_rack")}
    assert moves["overheads"].stand == "tall boom"
    assert moves["tom_rack"].stand == "clip"


def test_the_player_does_not_move_the_stand_or_the_distance_does() -> None:
    """Common practice, no single source: further back for a lively or nervous player."""
    for source in CATALOGUE.sources:
        for other in CATALOGUE.alternates.get(source.id, ()):
            changed = (other.stand, other.distance_cm) != (source.stand, source.distance_cm)
            changed = changed or (other.pattern, other.kinds[0]) != (source.pattern, source.kinds[0])
            assert changed or "longer lead" in other.position or other.stand == "clip", source.id


def test_an_acoustic_guitar_has_both_positions_and_never_the_sound_hole() -> None:
    """Common practice, no single source: a small condenser at the lower bout, aimed away from the sound hole; a large
    one at the 12th to 14th fret, 8 to 10 cm off, further back for a lively player; a second position may be blended.
    """
    guitar = CATALOGUE["acoustic_guitar"]
    assert guitar.kinds[:2] == ("small condenser", "large condenser")
    assert "small condenser: lower bout, aimed away from the sound hole" in guitar.position
    assert "large: 12th to 14th fret, 8 to 10 cm" in guitar.position
    assert guitar.distance_cm is not None
    assert guitar.distance_cm[0] == 8
    assert any("sound hole is boomy" in caution for caution in guitar.cautions)
    moves, shy, second = CATALOGUE.alternates["acoustic_guitar"]
    assert moves.distance_cm[0] > 10
    assert shy.when == "shy"
    assert "blended" in second.position
    assert guitar.house_channels == 1  # mono unless width is wanted


def test_high_pass_corners_leave_the_source_and_take_the_hum() -> None:
    """Common practice, no single source: corners such as 45 or 70 Hz; hum and air handling lie at 60 Hz and below."""
    for name in (
        "bass_guitar",
        "double_bass",
        "kick",
        "kick_in",
        "grand_piano",
        "pipe_organ",
        "harp",
        "tuba",
    ):
        assert CATALOGUE[name].high_pass_hz <= 45, name
    assert 45 <= CATALOGUE["acoustic_guitar"].high_pass_hz <= 80
    assert 45 <= CATALOGUE["lead_vocal"].high_pass_hz <= 100


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"when": "sleeps"}, "use one of moves"),
        ({"kinds": ["square"]}, "use one of ribbon"),
        ({"distance_cm": [9, 3]}, "nearest, then farthest"),
        ({"families": ["gongs"]}, "not known"),
        ({"colour": "red"}, "colour is missing or unknown"),
    ],
)
def test_a_bad_alternate_is_refused_with_what_to_do(change: dict[str, object], words: str) -> None:
    good = {
        "when": "moves", "families": ["brass"], "kinds": ["ribbon"], "pattern": "cardioid", "stand": "clip",
        "position": "p", "distance_cm": [1, 2], "evidence": "e",
    }  # fmt: skip
    assert read_alternates([good], {"tuba": "brass"}, ["ribbon"], ["clip"])["tuba"]
    with pytest.raises(CatalogueError, match=words):
        read_alternates([good | change], {"tuba": "brass"}, ["ribbon"], ["clip"])
