"""What chains the catalogue knows, and how it refuses one that doesn't fit."""

from __future__ import annotations

from pathlib import Path

import pytest

from tasks.catalogue import CatalogueError, load_catalogue
from tests.tasks.test_catalogue import GOOD

INSERT = """
[[insert]]
id = "squeeze"
name = "Squeeze"
kind = "compressor"
evidence = "invented"
"""
CHAIN = """
[[chain]]
sources = ["gong"]
inserts = ["squeeze"]
evidence = "invented"
"""


def test_guitar_bass_and_voice_go_through_a_compressor_into_a_limiter() -> None:
    """Common practice, no single source: variable threshold, about 3 to 1, 2 to 4 dB, automatic; then fixed threshold,
    20 to 1, fastest release, attack about three quarters of the way to the fastest."""
    chains = load_catalogue().chains.of_source
    for source in ("acoustic_guitar", "bass_guitar", "lead_vocal"):
        compressor, limiter = chains[source][-2:]
        assert (compressor.kind, compressor.threshold, compressor.ratio) == ("compressor", "variable", 3)
        assert (compressor.attack, compressor.release) == ("automatic", "automatic")
        assert compressor.reduction_db == (2, 4)
        assert "1 or 2 dB shown are 3 to 5 heard" in compressor.says
        assert (limiter.kind, limiter.threshold, limiter.ratio) == ("limiter", "fixed", 20)
        assert (limiter.attack, limiter.release) == (0.75, 1)
        assert "10 to 1" in limiter.says


def test_an_acoustic_guitar_is_lifted_a_little_near_10_khz() -> None:
    """Common practice, no single source: 1.5 to 3 dB, little else."""
    first = load_catalogue().chains.of_source["acoustic_guitar"][0]
    assert (first.kind, first.lift_db, first.lift_hz) == ("equaliser", (1.5, 3), 10_000)


def test_a_transformer_is_driven_and_then_one_step_back() -> None:
    """Common practice, no single source."""
    said = load_catalogue().chains.of_preamp
    assert "one step back" in said["transformer"]
    assert "tone and level" in said["impedance"]


def test_a_chain_of_ones_own_is_read(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(GOOD + INSERT + CHAIN)
    assert [wish.name for wish in load_catalogue(tmp_path).chains.of_source["gong"]] == ["Squeeze"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (INSERT + CHAIN.replace("gong", "drum"), "no source has the id 'drum'"),
        (CHAIN, "no insert has the id 'squeeze'"),
        (INSERT * 2, "used twice"),
        (INSERT + CHAIN * 2, "gong has a chain already"),
        (INSERT + 'gain = "much"', "unknown key 'gain'"),
        (INSERT.replace('kind = "compressor"', 'kind = "gate"'), "use one of equaliser, compressor, limiter"),
        (INSERT.replace('name = "Squeeze"\n', ""), "name is missing"),
        (INSERT + 'threshold = "low"', "variable or fixed"),
        (INSERT + "ratio = 0.5", "a number from 1"),
        (INSERT + "reduction_db = [4, 2]", "[least, most]"),
        (INSERT + "reduction_db = 4", "[least, most]"),
        (INSERT + "attack = 1.5", "0 (slowest) to 1 (fastest)"),
        (INSERT + "lift_db = [1, 2]", "both lift_db and lift_hz"),
        ('[[preamp]]\nid = "valves"\nsays = "x"\nevidence = "x"', "no preamp has the id 'valves'"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "a.toml").write_text(GOOD + text)
    with pytest.raises(CatalogueError) as error:
        load_catalogue(tmp_path)
    assert said in str(error.value)
