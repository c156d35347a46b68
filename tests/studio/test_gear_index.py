"""The index against slow ways to say the same: nearest words, sets as whole numbers, units that say every word."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from studio.gear.index import OF_NAME, OF_REMARK, OF_THING, Entry, Index, found_in
from studio.gear.shelf import Shelf, positions_of, set_of

LETTERS = st.text("abcr", min_size=3, max_size=9)
WORDS = st.lists(st.sampled_from(["oak", "elm", "ribbon", "rib", "r2", "00417", "7", "hall"]), max_size=4)


@given(st.sets(st.integers(0, 300) | st.integers(0, 30_000)))
def test_a_set_holds_what_was_put_into_it_in_order(positions: set[int]) -> None:
    assert list(positions_of(set_of(positions, 30_001))) == sorted(positions)


@given(st.sets(LETTERS, min_size=1, max_size=12), LETTERS)
def test_misspelt_means_the_words_that_the_fewest_slips_lead_to(words: set[str], asked: str) -> None:
    shelf = Shelf({OF_THING: {word: [0] for word in words}}, size=1)
    distances = {word: OSA.distance(asked, word) for word in words}
    nearest = min((d for d in distances.values() if 0 < d <= min(len(asked) // 3, 3)), default=None)
    if asked in words:
        return
    found = {shelf.words[number] for ranges in shelf.nearly(asked).values() for number, _ in ranges}
    assert found == {word for word, distance in distances.items() if distance == nearest}


@given(st.lists(WORDS, min_size=1, max_size=60), WORDS)
def test_whole_words_find_exactly_the_units_that_say_all_of_them(
    said: list[list[str]], asked: list[str]
) -> None:
    """Begins, ends, contains: “rib” is in ribbon, “7” is a figure and only itself."""
    index = Index(
        [Entry(number, f"u{number}x") for number in range(len(said))],
        [(OF_THING, " ".join(words), [number]) for number, words in enumerate(said) if words],
    )

    def says(words: list[str], word: str) -> bool:
        return any(word == own or own.startswith(word) or (len(word) > 2 and word in own) for own in words)

    expected = {n for n, words in enumerate(said) if asked and all(says(words, word) for word in asked)}
    everything = {word for words in said for own in words for word in [own, *_inner(own)]}
    if set(asked) <= everything:  # else the nearest is meant
        assert {hit.pk for hit in index.find(" ".join(asked)) if not hit.channel} == expected


def _inner(own: str) -> list[str]:
    return ["rib"] if own == "ribbon" else []


def test_a_name_goes_before_a_word_and_a_word_before_a_remark() -> None:
    entries = [Entry(0, "A-1"), Entry(1, "B-1"), Entry(2, "Heron")]
    index = Index(entries, [(OF_REMARK, "like a heron", [0]), (OF_THING, "Heron", [1])])
    assert [hit.tag for hit in index.find("heron")] == ["Heron", "B-1", "A-1"]
    assert [hit.tag for hit in index.find("hron")] == ["Heron", "B-1", "A-1"]
    assert OF_NAME > OF_THING > OF_REMARK


def test_how_many_there_are_is_counted_beyond_those_that_are_wanted() -> None:
    index = Index(
        [Entry(number, f"N-{number:02}") for number in range(50)], [(OF_THING, "plover", range(50))]
    )
    hits, total = index.found("plover", 12)
    assert ([hit.pk for hit in hits], total) == (list(range(12)), 50)


UNITS = st.dictionaries(st.integers(0, 30), WORDS, max_size=20)


@given(
    UNITS, UNITS, st.lists(st.sampled_from(["oak", "elm", "rib", "r2", "7", "u1x", "u12x", "2"]), max_size=3)
)
def test_two_layers_find_what_one_index_of_the_same_finds(
    before: dict[int, list[str]], changed: dict[int, list[str]], asked: list[str]
) -> None:
    """Of what is written as it is asked for: a slip is looked for in each layer by itself."""
    whole, since, one = (index_of(units) for units in (before, changed, before | changed))
    hidden = set_of((at for at, entry in enumerate(whole.entries) if entry.pk in changed), len(whole.entries))
    query = " ".join(asked)
    exactly = {
        word for word in asked if any(word in own for words in (before | changed).values() for own in words)
    }
    found, total = found_in([(whole, hidden), (since, 0)], query, 50)
    wanted, number = one.found(query, 50)
    if exactly == set(asked):
        assert (set(found), total) == (set(wanted), number)
        assert [hit for hit in found if hit.exact] == [hit for hit in wanted if hit.exact]
    assert not {hit.pk for hit in found} - (before | changed).keys()


def index_of(units: dict[int, list[str]]) -> Index:
    rows = sorted((f"u{pk}x", pk, words) for pk, words in units.items())
    entries = [Entry(pk, name, 8) for name, pk, _ in rows]
    return Index(entries, [(OF_THING, " ".join(w), [at]) for at, (_, _, w) in enumerate(rows) if w])
