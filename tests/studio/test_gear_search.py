"""The look-up finds what people mean: tags, channels, kinds, misspelt, accented, in either Unicode form."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest_django import DjangoCaptureOnCommitCallbacks

from studio.gear import search
from studio.gear.index import OF_THING, Entry, Hit, Index
from studio.gear.search import find, find_stock
from studio.gear.words import fold, joined
from studio.models import CableSpec, GearModel, GearUnit, LookupStamp, MainsSpec, MicrophoneSpec, Stock
from tests.house import make_di, make_mic, make_model, make_preamp, make_room, make_site, make_unit

NUNEZ = "Núñez"
COMPOSED, APART = unicodedata.normalize("NFC", NUNEZ), unicodedata.normalize("NFD", NUNEZ)


def tags(query: str) -> list[str]:
    return [hit.tag for hit in find(query)]


@pytest.fixture
def house(db: None) -> None:
    hall = make_room("Weaving Hall")
    make_preamp("Oak", 8, home_room=hall, storage="machine rack")
    make_preamp("Oakum", 2)
    make_mic("R-02", MicrophoneSpec.Transducer.RIBBON, serial="00417")
    make_mic("R-03", MicrophoneSpec.Transducer.RIBBON, serial="00518")
    make_mic("C-01", MicrophoneSpec.Transducer.LARGE_CONDENSER, name="Heron 5")
    make_di("D-01")


@pytest.mark.usefixtures("house")
@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("R-02", "R-02"),
        ("r02", "R-02"),
        ("r 02", "R-02"),
        ("00417", "R-02"),
        ("0041", "R-02"),
        ("heron", "C-01"),
        ("Heron5", "C-01"),
        ("hreon", "C-01"),
        ("large condenser", "C-01"),
        ("condensor", "C-01"),
        ("di", "D-01"),
        ("direct box", "D-01"),
        ("weaving", "Oak"),
        ("rack weaving", "Oak"),
    ],
)
def test_what_people_type_finds_first(query: str, found: str) -> None:
    assert tags(query)[0] == found


@pytest.mark.usefixtures("house")
@pytest.mark.parametrize("query", ["ribbon", "ribon", "ribbons", "RIBBON", "rib", "ribbno", "ribbon mic"])
def test_a_kind_finds_all_of_it_also_misspelt_or_half_typed(query: str) -> None:
    assert tags(query) == ["R-02", "R-03"]


@pytest.mark.usefixtures("house")
@pytest.mark.parametrize("query", ["oak 3", "Oak, channel 3", "OAK ch3", "oak ch 3", "oak-3", "oak/3"])
def test_a_unit_and_a_number_is_that_channel(query: str) -> None:
    oak = GearUnit.objects.get(tag="Oak")
    assert find(query)[0] == Hit(oak.pk, "Oak", 3, exact=True)


@pytest.mark.usefixtures("house")
def test_a_channel_that_a_unit_has_not_is_not_found() -> None:
    GearModel.objects.filter(units__tag="Oak").update(name="Rack")  # no figure that R-02 could be meant by
    assert not [hit for hit in find("oak 9") if hit.channel]
    assert not [hit for hit in find("oak 0") if hit.channel]
    assert not [hit for hit in find("R-02 1") if hit.channel]


@pytest.mark.usefixtures("house")
def test_a_misspelt_unit_and_a_number_is_still_that_channel() -> None:
    GearModel.objects.filter(units__tag="Oak").update(name="Rack")  # no figure of its own
    assert [(hit.tag, hit.channel, hit.exact) for hit in find("oakk 3")] == [("Oak", 3, False)]


@pytest.mark.usefixtures("house")
def test_a_single_figure_is_not_the_beginning_of_a_longer_number() -> None:
    assert "C-01" not in tags("heron 0")
    assert "C-01" in tags("heron 5")


@pytest.mark.usefixtures("house")
def test_the_very_name_comes_first_and_what_begins_alike_after_it() -> None:
    assert [(hit.tag, hit.exact) for hit in find("oak")] == [("Oak", True), ("Oakum", False)]


@pytest.mark.usefixtures("house")
def test_a_tag_that_looks_like_a_channel_is_the_tag() -> None:
    make_unit("Oak 3")
    hits = find("oak 3")
    assert [(hit.tag, hit.channel) for hit in hits[:2]] == [("Oak 3", None), ("Oak", 3)]
    assert not any(hit.exact for hit in hits)  # two things have that name: show both


@pytest.mark.usefixtures("house")
@pytest.mark.parametrize("query", ["", "   ", "-", "zebra crossing", "R-09", "00419"])
def test_what_is_not_there_is_not_made_up(query: str) -> None:
    assert find(query) == []


@pytest.mark.django_db
@pytest.mark.parametrize("stored", [COMPOSED, APART])
@pytest.mark.parametrize("query", ["nunez", "NÚÑEZ", COMPOSED, APART, "núñ", "nuñes"])
def test_accents_case_and_unicode_forms_do_not_matter(stored: str, query: str) -> None:
    make_unit("U-1", make_model(maker=stored))
    make_unit("U-2")
    assert tags(query) == ["U-1"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("stored", "query"),
    [("Écho Mic", "echo"), ("Echo Mic", "écho"), ("Straße", "STRASSE"), ("ИВАН", "иван"), ("иван", "ИВАН")],
)
def test_other_letters_fold_alike_on_every_database(stored: str, query: str) -> None:
    make_unit("U-1", make_model(name=stored))
    assert tags(query) == ["U-1"]


@pytest.mark.django_db
def test_percent_and_underscore_mean_themselves() -> None:
    make_unit("Half", make_model(name="50% Mixer"))
    make_unit("Box_7")
    make_unit("Plain")
    assert tags("%") == ["Half"]
    assert tags("50%") == ["Half"]
    assert tags("_") == ["Box_7"]
    assert tags("box_7") == ["Box_7"]
    for wildcard in ("pl%", "pla_n", "b%7", "%%", "__"):
        assert tags(wildcard) == []


@pytest.mark.django_db
def test_the_index_follows_what_is_added_renamed_and_deleted() -> None:
    unit = make_unit("First")
    assert tags("first") == ["First"]
    unit.tag = "Second"
    unit.save()
    assert (tags("first"), tags("second")) == ([], ["Second"])
    make_unit("Third")
    assert tags("third") == ["Third"]
    unit.delete()
    assert tags("second") == []


@pytest.mark.django_db
def test_of_few_changes_the_index_of_the_rest_stays_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    units = [make_unit(f"Box {number}") for number in range(1, 6)]
    assert len(tags("box")) == 5
    whole = search._units.kept.whole
    model = units[0].gear_model
    model.name = "Heron"
    model.save()
    units[1].delete()
    make_unit("Box 9", storage="attic")
    assert tags("heron") == ["Box 1"]
    assert tags("box") == ["Box 1", "Box 3", "Box 4", "Box 5", "Box 9"]
    assert tags("atic") == ["Box 9"]
    assert search._units.kept.whole is whole
    monkeypatch.setattr(search, "FEW", 1)
    make_unit("Box 10")
    assert len(tags("box")) == 6
    assert search._units.kept.whole is not whole


@pytest.mark.django_db
def test_what_another_process_renamed_is_found_as_soon_as_it_has_said_so() -> None:
    unit = make_unit("First")
    assert tags("first") == ["First"]
    GearUnit.objects.filter(pk=unit.pk).update(tag="Second")  # past this process's signals
    assert tags("second") == []
    LookupStamp.renew()
    assert tags("second") == ["Second"]


@pytest.mark.django_db
def test_what_changed_in_a_transaction_is_told_to_the_others_once(
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    with django_capture_on_commit_callbacks() as told:
        make_unit("First")
        make_unit("Second")
    assert len(told) == 1
    told[0]()
    assert LookupStamp.objects.count() == 1


@pytest.mark.django_db
def test_counted_stock_is_found_by_name_kind_connectors_and_place() -> None:
    site = make_site("Quay House")
    line = Stock.objects.create(site=site, kind="cable", name="line 10 m", count=9, storage="hook 7")
    CableSpec.objects.create(stock=line, ends="XLR", length_m=10)
    Stock.objects.create(site=site, kind="stand", name="tall boom", count=4)
    for query in ("line 10", "xlr", "cabel", "10 m", "10m", "hook 7", "lead"):
        assert [hit.tag for hit in find_stock(query)] == ["line 10 m"], query
    assert [hit.tag for hit in find_stock("quay")] == ["line 10 m", "tall boom"]
    assert find_stock("ribbon") == find("xlr") == []


@pytest.mark.django_db
def test_remarks_owners_and_what_is_special_about_a_model_are_words_too() -> None:
    make_unit("V-1", make_mic(name="Plain").gear_model, owner="Amsel", remark="grille dented")
    MainsSpec.objects.create(gear_model=GearModel.objects.get(name="Plain"), valves=True)
    for query in ("amsel", "dented", "valve", "tube mic"):
        assert "V-1" in tags(query), query


@pytest.mark.django_db
def test_a_kind_is_found_by_the_words_that_people_use() -> None:
    for kind in GearModel.Kind:
        make_unit(f"unit-{kind.value}".replace("_", "-"), make_model(kind))
    for word, said in [
        ("cans", "headphones"),
        ("eq", "equaliser"),
        ("mic", "microphone"),
        ("comp", "compressor"),
    ]:
        assert f"unit-{said}" in tags(word)


def test_a_letter_swapped_or_missing_is_forgiven_but_a_wrong_figure_is_not() -> None:
    index = Index(
        [entry(number, f"N-{number:02}") for number in range(1, 4)], [(OF_THING, "plover", [0, 1, 2])]
    )
    assert len(index.find("plovre")) == len(index.find("plver")) == 3
    assert [hit.tag for hit in index.find("n-02")] == ["N-02"]
    assert index.find("n-07") == []


@given(st.text(max_size=30))
def test_folding_twice_changes_nothing_and_forms_fold_alike(text: str) -> None:
    assert fold(fold(text)) == fold(text)
    assert fold(unicodedata.normalize("NFC", text)) == fold(unicodedata.normalize("NFD", text))


@given(st.lists(st.text(max_size=12), min_size=1, max_size=12), st.text(max_size=12))
def test_any_unit_is_found_by_its_own_tag_and_no_query_breaks(names: list[str], query: str) -> None:
    index = Index([entry(number, name) for number, name in enumerate(names)], [])
    index.find(query)
    for number, name in enumerate(names):
        if joined(name):
            assert number in [hit.pk for hit in index.find(name)]


def entry(number: int, name: str) -> Entry:
    return Entry(number, name)


@pytest.mark.django_db
def test_zeros_that_lead_a_number_need_not_be_typed_and_the_very_tag_goes_first() -> None:
    make_unit("RB-04")
    make_unit("DI-10")
    assert [hit.tag for hit in find("RB-4")][:1] == ["RB-04"]
    assert [hit.tag for hit in find("rb 004")][:1] == ["RB-04"]
    make_unit("RB-4")
    assert [(hit.tag, hit.exact) for hit in find("RB-4")][:1] == [("RB-4", True)]
    assert [(hit.tag, hit.exact) for hit in find("RB-04")][:1] == [("RB-04", True)]
    assert "DI-10" not in [hit.tag for hit in find("DI-1") if hit.exact]
