"""Labels lie on the paper where they are said to: nothing cut off, no code too small to scan."""

from __future__ import annotations

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from studio.labels.sheets import LEAST_CODE_MM, PAPERS, Sheet, pages, to_cut
from studio.models import Role
from tests.house import make_mic, make_person

OWN = {"across": 4, "down": 10, "width_mm": 45, "height_mm": 25, "left_mm": 12, "top_mm": 18}
GAPS = {"gap_across_mm": 2, "gap_down_mm": 0.5}


@pytest.mark.parametrize("paper", PAPERS)
def test_plain_paper_is_filled_evenly_with_codes_that_scan(paper: str) -> None:
    """A4 is 210 by 297 mm (ISO 216), Letter 215.9 by 279.4 mm (ANSI/ASME Y14.1)."""
    sheet, (width, height) = to_cut(paper), PAPERS[paper]
    assert sheet.problem() == ""
    assert sheet.code_mm == 24
    assert 2 * sheet.left_mm + 3 * 63 + 2 * 3 == pytest.approx(width, abs=0.02)
    assert 2 * sheet.top_mm + sheet.down * 30 + (sheet.down - 1) * 3 == pytest.approx(height, abs=0.02)
    assert sheet.top_mm > 5  # what most printers leave white


sizes = st.floats(10, 120)
edges = st.floats(0, 40)


@given(
    st.builds(
        Sheet,
        st.sampled_from([*PAPERS]),
        st.integers(1, 8),
        st.integers(1, 30),
        sizes,
        sizes,
        edges,
        edges,
        edges,
        edges,
    )
)
def test_a_sheet_without_a_problem_fits_its_paper_and_its_codes_fit_their_labels(sheet: Sheet) -> None:
    if sheet.problem():
        return
    width, height = PAPERS[sheet.paper]
    last_left = sheet.left_mm + (sheet.across - 1) * (sheet.width_mm + sheet.gap_across_mm)
    last_top = sheet.top_mm + (sheet.down - 1) * (sheet.height_mm + sheet.gap_down_mm)
    assert last_left + sheet.width_mm <= width + 0.1
    assert last_top + sheet.height_mm <= height + 0.1
    assert LEAST_CODE_MM <= sheet.code_mm < min(sheet.width_mm, sheet.height_mm)


def test_labels_begin_where_the_first_sheet_is_unused() -> None:
    sheet = to_cut("letter")
    found = list(pages([*range(30)], sheet, used=5))
    assert [len(page) for page in found] == [21, 14]
    assert found[0][:6] == [None] * 5 + [0]
    assert list(pages([], sheet, used=5)) == []


@pytest.mark.django_db
def test_a_sheet_that_is_wrongly_measured_is_refused_in_a_sentence() -> None:
    client = Client()
    client.force_login(make_person(Role.TECH))
    make_mic("R-02")
    said = {"tags": "R-02", "sheet": "own-a4", **OWN, **GAPS}
    page = client.get("/labels", said)
    assert page.context["sheet"].code_mm == 23
    assert "--width: 45mm" in page.content.decode()
    for wrong, words in [
        ({"across": 5}, "the paper is 210 mm wide"),
        ({"down": 11}, "the paper is 297 mm high"),
        ({"height_mm": 12}, "too small to scan"),
        ({"left_mm": ""}, "Measure it on a sheet of yours."),
        ({"width_mm": "wide"}, "Enter a number"),
    ]:
        page = client.get("/labels", said | wrong)
        assert words in page.content.decode()
        assert page.context["labels"] == []
