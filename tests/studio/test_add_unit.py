"""One more unit with the fewest fields: only what it is has to be said."""

from __future__ import annotations

import pytest
from django.test import Client

from studio.house.adding import kind_of, known_models, next_tag
from studio.models import GearModel, GearUnit, MicrophoneSpec, Role
from tests.house import make_mic, make_model, make_person, make_preamp, make_room, make_site, make_unit

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper(client: Client) -> Client:
    client.force_login(make_person(Role.TECH, site=make_site()))
    return client


def add(client: Client, **said: str) -> str:
    """Where it led to, or the page that asks again."""
    response = client.post("/house/add", said)
    return response["Location"] if response.status_code == 302 else _page(response.content)


def _page(content: bytes) -> str:
    return content.decode().replace("&#x27;", "’")


def test_a_known_model_is_enough_and_the_tag_goes_on_with_its_series(keeper: Client) -> None:
    model = make_mic("RB-08", name="Bight").gear_model
    make_unit("RB-09")  # of another model: its tag is taken all the same
    assert add(keeper, what="alder & sons bight") == "/gear/RB-10"
    assert GearUnit.objects.get(tag="RB-10").gear_model == model
    assert "Bight" in keeper.get("/house/add").content.decode()  # to choose from
    assert "kind of thing" not in keeper.get("/house/add").content.decode()


def test_each_site_has_its_own_series() -> None:
    quay = make_site("Quay")
    model = make_mic("MC-04").gear_model
    make_unit("MC-51", model, site=quay)
    assert next_tag(model, make_site()) == "MC-05"
    assert next_tag(model, quay) == "MC-52"
    assert next_tag(model, make_site("Loft")) == "MC-52"
    assert next_tag(make_model(GearModel.Kind.MICROPHONE), quay) == "MC-52"
    assert next_tag(make_model(GearModel.Kind.EFFECT, "Wet 2/b"), quay) == "Wet-2-b-1"


def test_tag_and_serial_may_be_said(keeper: Client) -> None:
    make_model(name="Clamp")
    assert add(keeper, what="Clamp", tag="Left", serial="0417") == "/gear/Left"
    assert GearUnit.objects.get(tag="Left").serial == "0417"


def test_a_new_model_is_asked_for_its_kind_and_its_name_is_only_a_proposal(keeper: Client) -> None:
    page = add(keeper, what="Zorb Nine")
    assert "The house has no model “Zorb Nine” yet. What kind of thing is it?" in page
    assert 'value="Zorb Nine"' in page
    assert add(keeper, what="Zorb Nine", kind="effect").startswith("/house/models/")
    page = add(keeper, what="Sluice 8ch preamp")
    assert '<option value="preamp" selected>' in page
    assert 'name="channels" value="8"' in page
    assert GearUnit.objects.count() == 1


def test_a_new_microphone_has_the_transducer_that_its_name_says(keeper: Client) -> None:
    assert add(keeper, what="Alder & Sons ribbon mic 3", kind="microphone").startswith("/house/models/")
    assert MicrophoneSpec.objects.get().transducer == "ribbon"


def test_a_known_maker_in_front_is_the_maker(keeper: Client) -> None:
    make_model(name="Clamp")
    add(keeper, what="Alder & Sons Vise", kind="effect")
    assert GearModel.objects.get(name="Vise").maker == "Alder & Sons"


def test_what_is_used_by_channel_has_to_say_how_many(keeper: Client) -> None:
    page = add(keeper, what="Sluice", kind="preamp")
    assert "how many are there?" in page
    assert add(keeper, what="Sluice", kind="preamp", channels="4").startswith("/house/models/")
    assert GearUnit.objects.get().channels.count() == 4
    assert kind_of("Sluice 8ch preamp").channels == 8
    assert kind_of("Wicket DI").channels == 1


def test_a_slip_in_a_models_name_is_pointed_out(keeper: Client) -> None:
    make_model(name="Weighbridge")
    assert "Or did you mean Alder &amp; Sons Weighbridge?" in add(keeper, what="Weighbrigde")


def test_two_models_of_one_name_are_asked_about(keeper: Client) -> None:
    make_model(name="Trunk")
    make_model(name="Trunk", maker="Medlar")
    assert "Which one: Alder &amp; Sons Trunk or Medlar Trunk?" in add(keeper, what="trunk")
    assert len(known_models("medlar trunk")) == 1
    assert not GearUnit.objects.exists()


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"what": ""}, "Say what it is"),
        ({"what": "x" * 81}, "at most 80"),
        ({"what": "Clamp", "tag": "a/b"}, "can’t hold a slash"),
        ({"what": "Clamp", "tag": "TAKEN"}, "TAKEN is another unit’s tag"),
        ({"what": "New", "kind": "spaceship"}, "Choose one of the list."),
        ({"what": "New", "kind": "preamp", "channels": "many"}, "Write the number of channels"),
        ({"what": "New", "kind": "preamp", "channels": "9999999999999999999999"}, "At most 512 channels."),
    ],
)
def test_what_is_wrong_gets_a_sentence_and_nothing_is_made(
    keeper: Client, said: dict[str, str], sentence: str
) -> None:
    make_unit("taken", make_model(name="Clamp"))
    assert sentence in add(keeper, **said)
    assert (GearUnit.objects.count(), GearModel.objects.count()) == (1, 1)


def test_where_there_are_several_sites_one_is_chosen_ones_own_first(keeper: Client) -> None:
    quay = make_site("Quay")
    make_model(name="Clamp")
    assert f'<option value="{make_site().pk}" selected>' in keeper.get("/house/add").content.decode()
    assert "Choose a site." in add(keeper, what="Clamp")
    add(keeper, what="Clamp", tag="Q-1", site=str(quay.pk))
    assert GearUnit.objects.get(tag="Q-1").site == quay


def test_one_after_another(keeper: Client) -> None:
    make_preamp("Oak", home_room=make_room())
    make_model(name="Clamp")
    assert add(keeper, what="Clamp", another="yes") == "/house/add"
    assert "Clamp-1 is added" in keeper.get("/house/add").content.decode()


def test_only_who_keeps_gear_adds_it(client: Client) -> None:
    client.force_login(make_person(Role.ASSISTANT, site=make_site()))
    assert client.get("/house/add").status_code == 403


def test_an_empty_house_is_told_to_begin_with_a_site(client: Client) -> None:
    client.force_login(make_person(Role.TECH))
    page = _page(client.post("/house/add", {"what": "Clamp", "kind": "effect"}).content)
    assert "There is no site yet: a manager adds one under House." in page
