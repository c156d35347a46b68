"""Labels hold a short address that stays, with enough white around it, and lead to the unit whatever it is called."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
import zxingcpp
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from studio.labels.codes import QUIET_MODULES, code_svg, module_mm
from studio.labels.views import label_path
from studio.models import GearUnit, Role
from tests.house import make_mic, make_person, make_preamp, make_room


def drawn(svg: str, scale: int = 4) -> Image.Image:
    """The runs of dark modules of an <svg> as a picture; a drawing of our own, so that a reader can try it."""
    root = ET.fromstring(svg)  # noqa: S314 our own
    width = float(root.attrib["viewBox"].split()[2])
    path = next(el for el in root.iter() if "stroke" in el.attrib).attrib["d"]
    picture = Image.new("L", (round(width) * scale, round(width) * scale), 255)
    pen, x, y = ImageDraw.Draw(picture), 0.0, 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(number) for number in re.findall(r"-?\d*\.?\d+", numbers)]
        if command == "M":
            x, y = values
        elif command == "m":
            x, y = x + values[0], y + values[1]
        else:
            top = (y - 0.5) * scale
            pen.rectangle((x * scale, top, (x + values[0]) * scale - 1, top + scale - 1), fill=0)
            x += values[0]
    return picture


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 10**7), st.sampled_from(["http://127.0.0.1:8000", "https://desk.example"]))
def test_another_reader_reads_the_address_from_the_drawing(pk: int, site: str) -> None:
    address = f"{site}/u/{pk}"
    [found] = zxingcpp.read_barcodes(drawn(code_svg(address, "Code")))
    assert (found.text, found.format) == (address, zxingcpp.BarcodeFormat.QRCode)
    assert found.ec_level == "M"


def test_modules_are_as_wide_as_reckoned_and_white_lies_on_all_sides() -> None:
    """ISO/IEC 18004: four modules of white; 30 letters at level M make 37 modules with the border: 0.54 mm on 20 mm,
    105 letters 49, 0.41 mm (arithmetic)."""
    assert QUIET_MODULES == 4
    assert module_mm("x" * 30, 20) == pytest.approx(0.54, abs=0.005)
    assert module_mm("x" * 105, 20) == pytest.approx(0.41, abs=0.005)
    picture = drawn(code_svg("x" * 30, "Code"), scale=1)
    assert picture.size == (37, 37)
    assert {picture.getpixel((x, y)) for x in range(37) for y in (0, 3, 33, 36)} == {255}


@pytest.mark.django_db
def test_a_label_leads_to_its_unit_also_after_it_was_renamed_and_numbers_are_never_localised() -> None:
    client, unit = Client(), make_preamp("Oak rack", 8)
    client.force_login(make_person(Role.ASSISTANT))
    GearUnit.objects.filter(pk=unit.pk).update(tag="Elm/3")
    assert client.get(label_path(unit.pk, 3)).headers["Location"] == "/gear/Elm/3?channel=3"
    assert client.get(label_path(unit.pk + 1)).status_code == 404
    assert [label_path(number) for number in (999, 1000, 12345)] == ["/u/999", "/u/1000", "/u/12345"]


@pytest.mark.django_db
def test_labels_are_printed_by_room_kind_or_tag_and_unknown_tags_are_named() -> None:
    client, hall = Client(), make_room("Weaving Hall")
    client.force_login(make_person(Role.TECH))
    make_preamp("Oak", 2, home_room=hall)
    make_mic("R-02"), make_mic("R-03", retired=True)

    def names(query: str) -> list[str]:
        return [label.name for label in client.get(f"/labels?{query}").context["labels"]]

    assert names("") == []
    assert names(f"room={hall.pk}") == ["Oak"]
    assert names("kind=preamp&channels=on") == ["Oak", "Oak 1", "Oak 2"]
    assert names("tags=r-02,%20oak%0AR-03") == ["Oak", "R-02"]
    page = client.get("/labels?tags=r-02,R-03,zebra").content.decode()
    assert "No unit in use is called R-03, zebra." in page
    assert page.count("<svg") == 1


@pytest.mark.django_db
def test_labels_are_for_who_keeps_gear() -> None:
    client = Client()
    client.force_login(make_person(Role.ASSISTANT))
    assert client.get("/labels").status_code == 403
