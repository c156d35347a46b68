"""What holds for any text whatever: nothing is dropped, offsets fit, the same text reads the same, and quickly."""

from __future__ import annotations

import time
import unicodedata

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tasks.catalogue import FAMILIES, load_catalogue
from tasks.reading import Reading, read

WORDS = (
    *(
        "kick",
        "Snare top",
        "2x",
        "OH L/R",
        "toms 1-3",
        "bass",
        "DI",
        "+ amp",
        "no keys",
        "Lead vox",
        "3 BVs",
        "alto",
    ),
    *(
        "Flügel",
        "w/ DI",
        "stereo",
        "(pair)",
        "1)",
        "7-8",
        "CH",
        "Source",
        "Mic/DI",
        "\t",
        "|",
        ";",
        ",",
        "\n",
        "\r\n",
    ),
    *(
        "2232/4331/str",
        "Monitors:",
        "mix 1",
        "Total: 13",
        "Hi,",
        "we need",
        "guitar stand",
        "drmus",
        "🥁",
        "غيتار",
    ),
    *(
        "Schlagzeug",
        "guitare électrique",
        "voz principal",
        "due chitarre",
        "basgitaar",
        "xyzzy",
        "9999999999",
        "²",
        "½",
    ),
    *(
        "Violin I (8)",
        "Thanks,",
        "...",
        "\x00",
        "“",
        '12"',
        "(",
        ")",
        "e\u0301",
        "—",
        "I",
        "2.2.2.2",
        "**Drums**",
        "Choir:",
    ),
)
texts = st.one_of(
    st.text(max_size=300),
    st.lists(st.sampled_from(WORDS), max_size=40).map(" ".join),
    st.lists(st.sampled_from(WORDS), max_size=40).map("".join),
    st.lists(st.one_of(st.sampled_from(WORDS), st.text(max_size=6)), max_size=40).map(" ".join),
)


def pieces(reading: Reading) -> list[tuple[int, str]]:
    """Every stretch of text that the reading accounts for."""
    parts = [*reading.sources, *reading.not_inputs, *reading.questions]
    return [(part.start, part.as_written) for part in parts]


def must_be_accounted_for(char: str) -> bool:
    """Letters, marks, digits and symbols; not blanks, punctuation, control characters or the marks between entries."""
    return unicodedata.category(char)[0] in "LMNS" and not char.isspace() and char not in "|+=<>~^`"


def check(text: str) -> Reading:
    reading = read(text, load_catalogue())
    covered = bytearray(len(text))
    for start, written in pieces(reading):
        assert written.strip()
        assert text[start : start + len(written)] == written
        covered[start : start + len(written)] = b"\x01" * len(written)
    dropped = [
        char for char, seen in zip(text, covered, strict=True) if must_be_accounted_for(char) and not seen
    ]
    assert not dropped
    at = 0
    for line in text.split("\n"):
        if line.strip():
            assert any(covered[at : at + len(line)]), f"nothing stands for the line {line!r}"
        at += len(line) + 1
    return reading


@settings(max_examples=400, deadline=None)
@given(texts)
@example("keys, L\n13,,,,spare")
@example("Musiker F (Sopran- Alt- und Tenorsaxofon)")
@example("((((((((kick")
@example("x" * 300 + " kick")
def test_every_word_of_any_text_ends_in_a_source_a_stated_non_input_or_a_question(text: str) -> None:
    check(text)


@settings(max_examples=200, deadline=None)
@given(texts)
def test_entries_say_only_what_the_format_allows(text: str) -> None:
    catalogue = load_catalogue()
    for source in read(text, catalogue).sources:
        assert source.family in FAMILIES
        assert source.source_id in catalogue.by_id
        assert source.pickup in ("mic", "di", "mic+di", "line", "unknown")
        assert source.count is None or 1 <= source.count <= 64 * 4
        assert source.channels is None or 1 <= source.channels <= 128


@settings(max_examples=100, deadline=None)
@given(texts)
def test_the_same_text_is_read_the_same_twice(text: str) -> None:
    assert read(text, load_catalogue()) == read(text, load_catalogue())


@settings(max_examples=100, deadline=None)
@given(texts)
def test_entries_stand_in_the_order_of_the_text(text: str) -> None:
    starts = [source.start for source in read(text, load_catalogue()).sources]
    assert starts == sorted(starts)


@pytest.mark.parametrize("text", ["", " ", "\n\n", "\r\n", "\t", "\x00", "\ufeff", "-\n-\n-", "()", "🎸"])
def test_texts_without_words_are_no_trouble(text: str) -> None:
    assert not check(text).sources


@pytest.mark.parametrize(
    "text",
    [
        "kick snare hat " * 7000,
        "1 Kick dynamic\n" * 7000,
        "(" * 100_000,
        "a" * 100_000,
        "1 " * 50_000,
        "1-" * 50_000,
        "drums, " * 14_000,
        "| a | b |\n" * 10_000,
        "Source,Mic\n" + "Kick,dynamic\n" * 8000,
        "\n" * 100_000,
        "\U0001f941" * 50_000,
        "غ ي ت ا ر " * 10_000,
        "2.2.2.2 - " * 10_000,
    ],
)
def test_a_hundred_kilobytes_of_anything_take_time_in_proportion(text: str) -> None:
    """Compared with a tenth of the same text, whatever the machine: a quadratic step takes 100 times as long."""
    short = text[: len(text) // 10]
    read(short, load_catalogue())
    small, whole = _seconds(short), _seconds(text)
    assert whole < 30 * small + 2


def _seconds(text: str) -> float:
    begin = time.process_time()
    read(text, load_catalogue())
    return time.process_time() - begin
