"""The catalogue: it loads, covers what the trade names, and refuses bad files in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tasks.catalogue import FAMILIES, CatalogueError, load_catalogue
from tasks.catalogue.sources import LANGUAGES

GOOD = """
[[source]]
id = "gong"
name = "gong"
family = "percussion"
evidence = "common practice, no single source"
[source.aliases]
en = ["gong"]
"""


def test_it_holds_at_least_160_sources_over_all_families() -> None:
    catalogue = load_catalogue()
    assert len(catalogue.sources) >= 160
    assert {source.family for source in catalogue.sources} == set(FAMILIES)


def test_every_source_has_a_name_in_each_language() -> None:
    for source in load_catalogue().sources:
        assert {alias.language for alias in source.aliases} == set(LANGUAGES), source.id


def test_every_source_says_where_its_numbers_come_from_and_how_it_is_picked_up() -> None:
    for source in load_catalogue().sources:
        assert source.evidence, source.id
        assert source.position, source.id
        assert source.kinds or source.house_pickup in ("di", "line"), source.id
        if source.house_pickup == "mic":
            assert source.stand in ("tall boom", "short boom", "straight", "clip") or source.id.startswith(
                "speech"
            ), source.id
            assert 80 <= (source.peak_spl_db or 0) <= 155, source.id


def test_a_trumpet_is_placed_off_the_bell_and_never_close_enough_to_reach_155_db() -> None:
    """Published notes (a maker's white paper, via trade news): up to 155 dB at 2.5 cm; 30 cm is common practice."""
    trumpet = load_catalogue()["trumpet"]
    assert trumpet.distance_cm is not None
    assert trumpet.distance_cm[0] >= 30
    assert trumpet.kinds[0] == "ribbon"
    assert any("phantom" in caution for caution in trumpet.cautions)


def test_an_acoustic_guitar_is_never_miked_at_the_sound_hole() -> None:
    """Common practice, no single source."""
    guitar = load_catalogue()["acoustic_guitar"]
    assert "away from the sound hole" in guitar.position
    assert guitar.kinds[:2] == ("small condenser", "large condenser")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("percussion", "drumming"), ("gongs.toml", "gong", "family", "use one of")),
        (("evidence =", "evidense ="), ("gongs.toml", "gong", "evidense")),
        (("[source.aliases]\nen", "[source.aliases]\nxx"), ("gongs.toml", "xx", "use one of en")),
        (('id = "gong"', 'id = "gong"\nkinds = ["condenser"]'), ("gongs.toml", "condenser", "use one of")),
        (('id = "gong"', 'id = "gong"\ndistance_cm = [50, 20]'), ("gongs.toml", "nearest", "farthest")),
        (('id = "gong"', 'id = "gong"\npriority = 7'), ("gongs.toml", "lead part")),
        (('id = "gong"', 'id = "gong"\nparts = ["nothing"]'), ("gong", "nothing")),
        (("[[source]]", "[[source"), ("gongs.toml", "TOML")),
    ],
)
def test_a_bad_file_is_refused_with_file_entry_and_remedy(
    tmp_path: Path, change: tuple[str, str], words: tuple[str, ...]
) -> None:
    (tmp_path / "gongs.toml").write_text(GOOD.replace(*change, 1), encoding="utf-8")
    with pytest.raises(CatalogueError) as refusal:
        load_catalogue(tmp_path)
    for word in words:
        assert word in str(refusal.value)


def test_an_id_used_twice_and_an_empty_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CatalogueError, match=r"no \.toml file"):
        load_catalogue(tmp_path)
    twice = tmp_path / "twice"
    twice.mkdir()
    (twice / "a.toml").write_text(GOOD + GOOD, encoding="utf-8")
    with pytest.raises(CatalogueError, match="used twice"):
        load_catalogue(twice)
