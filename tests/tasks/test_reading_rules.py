"""Single rules of reading a list, one way of writing at a time."""

from __future__ import annotations

import pytest

from tasks.catalogue import load_catalogue
from tasks.reading import Reading, read


def reading(text: str) -> Reading:
    return read(text, load_catalogue())


def entries(text: str) -> list[tuple[str, int | None, int | None, str]]:
    return [(s.source_id, s.channels, s.count, s.pickup) for s in reading(text).sources]


def only(text: str) -> tuple[str, int | None, int | None, str]:
    (entry,) = entries(text)
    return entry


@pytest.mark.parametrize(
    "text",
    [
        "2x violin",
        "violin x2",
        "violin (2)",
        "2 violins",
        "two violins",
        "zwei Geigen",
        "deux violons",
        "dos violines",
        "due violini",
        "twee violen",
        "Violin: 2",
        "violin ×2",
    ],
)
def test_counts_are_read_in_every_spelling(text: str) -> None:
    assert only(text) == ("violin", 1, 2, "mic")


@pytest.mark.parametrize(
    "text",
    [
        "keys L/R",
        "keys stereo",
        "stereo keys",
        "Keys (st)",
        "keys, stereo",
        "Keyboard L + R",
        "keys l&r",
        "keys - stereo",
        "Tastiera L/R",
        "clavier stéréo",
        "teclado estéreo",
        "toetsen links/rechts",
    ],
)
def test_stereo_is_read_in_every_spelling(text: str) -> None:
    source, channels, count, _ = only(text)
    assert (source, channels, count) == ("keys", 2, 1)


@pytest.mark.parametrize(
    "text", ["bass w/ DI + amp", "bass (DI + mic)", "bass DI and amp", "Bass: DI plus mic", "Bass (DI & amp)"]
)
def test_a_box_with_an_amplifier_is_two_channels(text: str) -> None:
    assert only(text) == ("bass_guitar", 2, 1, "mic+di")


@pytest.mark.parametrize("text", ["bass (DI from amp)", "bass DI only", "bass DI or mic"])
def test_one_way_or_the_other_is_one_channel(text: str) -> None:
    assert only(text)[1:3] == (1, 1)


@pytest.mark.parametrize(
    "text", ["drums", "Schlagzeug", "batería", "toms", "trumpets", "Streicher", "choir", "percussion", "keys"]
)
def test_what_the_list_does_not_say_stays_unsaid(text: str) -> None:
    source, channels, count, _ = only(text)
    assert channels is None, source
    assert count == 1


@pytest.mark.parametrize("text", ["1 Toms\n2 Bass\n3 Vox", "1. Toms\n2. Bass", "Ch 1: Toms", "CH7 - Toms"])
def test_a_numbered_row_is_one_channel_even_in_the_plural(text: str) -> None:
    assert entries(text)[0] == ("tom", 1, 1, "mic")


@pytest.mark.parametrize(
    "text", ["7-8 Overheads\n9 Bass\n10 Vox", "ch 9+10 Overheads", "Ch 9/10: Overheads", "1. OH pair"]
)
def test_a_row_of_two_numbers_or_a_pair_is_two_channels(text: str) -> None:
    assert entries(text)[0] == ("overheads", 2, 1, "mic")


def test_bare_leading_numbers_that_agree_with_a_plural_are_counts() -> None:
    assert [entry[2] for entry in entries("3 French horns\n2 trumpets\n4 trombones")] == [3, 2, 4]


def test_two_numbered_lists_in_one_text_are_told_apart() -> None:
    text = "1 Kick\n2 Snare\n3 Vox\n\nMONITORS\n1 Vox wedge\n2 Drums"
    assert [entry[0] for entry in entries(text)] == ["kick", "snare", "vocal"]


@pytest.mark.parametrize(
    "text", ["1 Kick dynamic 2 Snare dynamic 3 Vox", "1.Kick,2.Snare,3.Vox", "1: Kick; 2: Snare; 3: Vox"]
)
def test_rows_that_are_wrapped_into_one_line_are_parted(text: str) -> None:
    assert [(e[0], e[1], e[2]) for e in entries(text)] == [("kick", 1, 1), ("snare", 1, 1), ("vocal", 1, 1)]


@pytest.mark.parametrize(
    "text",
    [
        "no drums",
        "ohne Schlagzeug",
        "pas de batterie",
        "sin batería",
        "senza batteria",
        "geen drums",
        "No drums or keys this time",
        "without drums",
    ],
)
def test_what_is_said_not_to_be_there_is_no_source(text: str) -> None:
    assert not reading(text).sources
    assert any("not to be there" in other.why for other in reading(text).not_inputs)


@pytest.mark.parametrize(
    "text",
    [
        "Total: 13 channels",
        "Monitor mixes:\n1 drummer\n2 singer",
        "Hospitality\n4x beer\n6 water",
        "Thanks!\nAnna",
        "guitar stand",
        "drum rug and drum stool",
        "4 headphone mixes",
        "Mix 2: drummer",
    ],
)
def test_totals_monitors_drinks_and_furniture_are_no_inputs(text: str) -> None:
    assert not reading(text).sources


def test_the_microphone_column_decides_the_pickup_and_is_kept_as_a_wish() -> None:
    table = "Ch,Source,Mic/DI,Stand\n1,Acoustic,DI,\n2,Acoustic,small condenser,boom\n3,,,\n"
    box, microphone = reading(table).sources
    assert (box.pickup, microphone.pickup) == ("di", "mic")
    assert microphone.wish == "small condenser"


def test_a_wish_binds_only_where_the_list_says_must() -> None:
    wishes = reading("kick - boundary\nsnare - dynamic (must be dynamic)").sources
    assert [(source.wish, source.wish_binds) for source in wishes] == [("boundary", False), ("dynamic", True)]


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("Lead vocalist/guitarist\nDrummer", ["lead_vocal", "electric_guitar", "drum_kit"]),
        ("Flute/piccolo", ["flute"]),
        ("piano or guitar", ["piano"]),
        ("Woodwind 1 (Piccolo/Flute)", ["woodwind_section"]),
        ("drums - kick, snare, 2 rack + 1 floor", ["kick", "snare", "tom_rack", "tom_floor"]),
        ("DRUMS\nKick\nSnare", ["kick", "snare"]),
        ("drummer's vocal", ["backing_vocal"]),
        ("Singer A's guitar amp", ["electric_guitar"]),
        ("2232/4331/str", ["woodwind_section", "brass_section", "string_section"]),
    ],
)
def test_players_parts_and_choices_become_the_right_entries(text: str, ids: list[str]) -> None:
    assert [entry[0] for entry in entries(text)] == ids


@pytest.mark.parametrize(
    ("text", "source_id"),
    [
        ("alto\ntenor sax\ntrumpet", "alto_sax"),
        ("choir\nalto", "choir_section"),
        ("2 bandoneons, 2 violins, piano, bass", "double_bass"),
        ("electric guitar, bass, drums", "bass_guitar"),
        ("banjo, mandolin, guitar", "acoustic_guitar"),
        ("drums, bass, guitar", "electric_guitar"),
        ("Posaune, Flügel", "grand_piano"),
        ("trumpet, flugel", "flugelhorn"),
        ("Batteria: cassa, timpano", "tom_floor"),
        ("archi, corni, timpani", "timpani"),
    ],
)
def test_the_rest_of_the_list_tells_what_a_doubtful_word_means(text: str, source_id: str) -> None:
    assert source_id in [entry[0] for entry in entries(text)]


@pytest.mark.parametrize(
    ("written", "source_id"),
    [
        ("accoustic guitar", "acoustic_guitar"),
        ("saxaphone", "saxophone"),
        ("keybord", "keys"),
        ("drmus", "drum_kit"),
        ("Jazzgitarre", "electric_guitar"),
        ("Gesangsmikrofon", "vocal"),
        ("Gitarrenverstärker", "electric_guitar"),
        ("Floete", "flute"),
        ("o h", "overheads"),
    ],
)
def test_safe_misspellings_compounds_and_loose_writing_are_understood(written: str, source_id: str) -> None:
    assert only(written)[0] == source_id


def test_a_doubtful_word_is_asked_about_with_suggestions() -> None:
    (question,) = reading("kick, snare, violn x, zorblax").questions[-1:]
    assert question.as_written == "zorblax"
    near = reading("- vilin").questions
    assert not near or "violin" in near[0].suggestions


def test_a_numbered_row_that_means_nothing_is_asked_about_unless_it_is_empty() -> None:
    asked = reading("1 Kick\n2 Zorblax\n3 spare\n4 Vox").questions
    assert [question.as_written for question in asked] == ["Zorblax"]


def test_the_house_can_teach_its_own_words() -> None:
    catalogue = load_catalogue()
    assert [source.source_id for source in read("1 thumper\n2 snare", catalogue).sources] == ["snare"]
    taught = read("1 thumper\n2 snare", catalogue, {"thumper": "kick"}).sources
    assert [source.source_id for source in taught] == ["kick", "snare"]


def test_a_sentence_adds_to_what_is_listed_and_makes_no_second_entry() -> None:
    text = "Wij zijn met z'n vijven: drumstel, contrabas, vleugel.\nGraag twee microfoons op de vleugel."
    assert [entry for entry in entries(text) if entry[0] == "grand_piano"] == [("grand_piano", 2, 1, "mic")]


def test_a_chamber_choir_of_32_is_a_choir_not_32_microphones() -> None:
    (choir,) = reading("Kammerchor, 32 Stimmen").sources
    assert (choir.family, choir.channels) == ("choir", None)


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("input,name,mic,stand\n1,Kick,boundary,\n2,Snare,dynamic,short", ["kick", "snare"]),
        (
            "Who | Plays | Needs\nA | drums | -\nB | bass | DI\nC | keys | DI",
            ["drum_kit", "bass_guitar", "keys"],
        ),
        ("Strings: 8-6-4-4-2", ["string_section"]),
        ("Choir & organ\n- SATB choir\n- Organ\n- Main pair", ["choir", "organ", "main_pair"]),
        ("### Bass\n- DI\n- Cab", ["bass_guitar", "bass_guitar"]),
        ("1 K\n2 S\n3 H\n4 OL\n5 OR\n6 V", ["kick", "snare", "hihat", "overheads", "overheads", "vocal"]),
        ("bass harmonica, banjo", ["harmonica", "banjo"]),
        ("violins, viola, cello\nA pair in front of the group", ["violin", "viola", "cello", "main_pair"]),
    ],
)
def test_ways_of_writing_that_fresh_lists_brought(text: str, ids: list[str]) -> None:
    assert [entry[0] for entry in entries(text)] == ids


def test_two_overheads_in_a_named_array_are_a_pair() -> None:
    assert only("overheads in XY") == ("overheads", 2, 1, "mic")


def test_an_unknown_thing_that_is_counted_is_asked_about_and_never_joins_its_neighbour() -> None:
    read_list = reading("two guitars (both amps), one zorblax in stereo")
    assert [source.total for source in read_list.sources] == [2]
    assert read_list.questions
