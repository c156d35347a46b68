"""Cells as people write them, one rule at a time. Values are common practice, no single source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.importing.amounts import ALL_THOUSANDS, Signs, read_amount
from studio.importing.dates import DAY_FIRST, MONTH_FIRST, order_of, read_date
from studio.importing.headings import find_layout
from studio.importing.kinds import read_kind, without_said
from studio.importing.layout import Column
from studio.importing.quantities import Quantity, quantity_in_words, read_quantity, serials_in
from studio.importing.reading import read_gear
from studio.importing.remarks import State, read_remarks
from studio.importing.table import Row

YEAR = 2026
COMMA_DECIMAL = Signs(thousands=".", decimals=",")


@pytest.mark.parametrize(
    ("cell", "value", "currency", "basis"),
    [
        ("1.249,00 €", "1249.00", "EUR", ""),
        ("£3,200.00", "3200.00", "GBP", ""),
        ("£89 ea", "89", "GBP", "each"),
        ("je 398,00 €", "398.00", "EUR", "each"),
        ("4.800,-", "4800", "", ""),
        ("1.4k", "1400", "", ""),
        ("£640 pr", "640", "GBP", "pair"),
        ("1 250,00 €", "1250.00", "EUR", ""),
        ("CHF 1'200.50", "1200.50", "CHF", ""),
        ("2.400 DM", "2400", "DEM", ""),
        ("780,00 € la paire", "780.00", "EUR", "pair"),
        ("~ $90", "90", "USD", ""),
    ],
)
def test_an_amount_is_read(cell: str, value: str, currency: str, basis: str) -> None:
    amount = read_amount(cell, COMMA_DECIMAL if "k" not in cell else ALL_THOUSANDS)
    assert amount is not None
    assert (amount.value, amount.currency, amount.basis) == (Decimal(value), currency, basis)


def test_an_amount_that_can_be_read_two_ways_is_not_read() -> None:
    amount = read_amount("1.500", Signs())
    assert amount is not None
    assert amount.value is None
    assert read_amount("two for 300 or 500", Signs()) is None


def test_one_column_with_other_amounts_settles_what_can_be_read_two_ways() -> None:
    rows = "".join(f"LM {n},1,{paid}\n" for n, paid in enumerate(['"£3,200.00"', "£640", "£89", "€1.950"]))
    reading = read_gear(("Model,Qty,Paid\n" + rows).encode(), YEAR)
    assert [str(thing.value) for thing in reading.things] == ["3200.00", "640", "89", "1950"]
    assert not [question for question in reading.questions if question.column]


@pytest.mark.parametrize(
    ("cell", "order", "wanted"),
    [
        ("03/04/2021", DAY_FIRST, "2021-04-03"),
        ("03/04/2021", MONTH_FIRST, "2021-03-04"),
        ("03/04/2021", "", None),
        ("03.04.2021", "", "2021-04-03"),
        ("25/04/2021", "", "2021-04-25"),
        ("12 Jun 21", "", "2021-06-12"),
        ("1er mars 2019", "", "2019-03-01"),
        ("11/2019", "", "2019-11"),
        ("2018", "", "2018"),
        ("2021-04-03T00:00:00", "", "2021-04-03"),
        ("31.02.2021", "", None),
        ("Tues", "", None),
        ("5.7.21", "", "2021-07-05"),
        ("01.02.87", "", "1987-02-01"),
    ],
)
def test_a_date_is_read_as_exact_as_it_is(cell: str, order: str, wanted: str | None) -> None:
    assert read_date(cell, order, YEAR) == wanted


def test_a_column_says_the_order_of_day_and_month() -> None:
    assert order_of(["03/04/2021", "14/09/2016"]) == {DAY_FIRST}
    assert order_of(["03/04/2021", "04/25/2021"]) == {MONTH_FIRST}
    assert order_of(["03/04/2021"]) == set()


@pytest.mark.parametrize(
    ("cell", "wanted"),
    [
        ("3x", Quantity(3)),
        ("× 4", Quantity(4)),
        ("pr", Quantity(2)),
        ("6 Stk.", Quantity(6)),
        ("~10", Quantity(10, about=True)),
        ("ca. 15", Quantity(15, about=True)),
        ("1 box", Quantity(1, container=True)),
        ("", Quantity(1, said=False)),
        ("?", Quantity(None)),
        ("zwei", Quantity(2)),
        ("8ch", None),
        ("16x4", None),
    ],
)
def test_a_quantity_is_read_and_channels_are_none(cell: str, wanted: Quantity | None) -> None:
    assert read_quantity(cell) == wanted


@pytest.mark.parametrize(
    ("text", "number", "rest"),
    [
        ("FL-12 x3", 3, "FL-12"),
        ("3x FL-12", 3, "FL-12"),
        ("SW-9 (pair)", 2, "SW-9"),
        ("Mixer 16x4", None, "Mixer 16x4"),
        ("Mixer 16 x 4", None, "Mixer 16 x 4"),
        ("8ch preamp", None, "8ch preamp"),
        ("BK 250 Ohm", None, "BK 250 Ohm"),
    ],
)
def test_a_count_within_a_name_is_found_and_channels_are_left(
    text: str, number: int | None, rest: str
) -> None:
    assert quantity_in_words(text) == (number, rest)


@pytest.mark.parametrize(
    ("cell", "number", "wanted"),
    [
        ("0412 / 0413", 2, ["0412", "0413"]),
        ("A113 A114", 2, ["A113", "A114"]),
        ("#118, #121", 2, ["118", "121"]),
        ("2231-2234", 4, ["2231", "2232", "2233", "2234"]),
        ("2231-34", 4, ["2231", "2232", "2233", "2234"]),
        ("70-2219-B", 1, ["70-2219-B"]),
        ("20-0031", 1, ["20-0031"]),
        ("S/N 3391", 1, ["3391"]),
        ("SN123", 1, ["SN123"]),
        ("9", 1, ["9"]),
        *[
            (word, 1, [])
            for word in ("n/a", "K.A.", "NC", "s/n", "TBD", "-", "n/k", "o.Nr.", "sin nº", "geen")
        ],
    ],
)
def test_serials_keep_their_zeros_and_words_for_none_are_none(
    cell: str, number: int, wanted: list[str]
) -> None:
    assert serials_in(cell, number) == wanted


@pytest.mark.parametrize(
    "text",
    ["NO 48V !!!", "KEIN 48V!", "JAMAIS 48V", "NUNCA 48V", "NEVER phantom", "GEEN 48V", "MAI phantom!"],
)
def test_a_ban_on_phantom_is_no_fault(text: str) -> None:
    read = read_remarks(text, "microphone")
    assert read.ban
    assert not read.faults


@pytest.mark.parametrize(
    ("text", "kind", "channels"),
    [
        ("ch 7 no +48", "preamp", (7,)),
        ("no +48 on ch 7", "", (7,)),
        ("canal 2 sin phantom", "", (2,)),
        ("Kanal 3 ohne 48V", "preamp", (3,)),
        ("sin phantom", "preamp", ()),
    ],
)
def test_missing_phantom_is_a_fault_and_no_ban(text: str, kind: str, channels: tuple[int, ...]) -> None:
    read = read_remarks(text, kind)
    assert not read.ban
    assert [(fault.effect, fault.channels) for fault in read.faults] == [("no_phantom", channels)]


def test_what_may_be_either_is_asked() -> None:
    assert read_remarks("no phantom", "").doubt == "no phantom"
    assert read_remarks("bat only? try 48", "di").doubt == "bat only? try 48"


@pytest.mark.parametrize(
    ("text", "channels", "part", "state"),
    [
        ("Kan. 5 kratzt", (5,), "", State.SUSPECTED),
        ("voies 2 et 3 mortes", (2, 3), "", State.OUT),
        ("canali 7 e 8 morti", (7, 8), "", State.OUT),
        ("li. Kanal zieht nicht", (), "left", State.OUT),
        ("PSU hums", (), "PSU", State.SUSPECTED),
        ("still hums slightly, only above 50 dB", (), "", State.LIMITED),
        ("defekt - in Rep. seit 9.9.", (), "", State.AWAY),
        ("2 cut - bin", (), "", State.RETIRED),
        ("lost since Tuesday", (), "", State.MISSING),
    ],
)
def test_a_remark_names_channel_part_and_how_bad_it_is(
    text: str, channels: tuple[int, ...], part: str, state: State
) -> None:
    (fault,) = read_remarks(text, "").faults
    assert (fault.channels, fault.part, fault.state) == (channels, part, state)


@pytest.mark.parametrize(
    ("text", "gain_db"),
    [
        ("ch 6 noisy over 50dB", 50),
        ("still hums slightly, only above 40 dB", 40),
        ("rauscht ab 45 dB", 45),
        ("souffle au-dessus de 50 dB", 50),
        ("hums 50 Hz", None),
        ("noisy", None),
    ],
)
def test_noise_that_begins_at_a_gain_is_a_limit_with_a_figure(text: str, gain_db: float | None) -> None:
    (fault,) = read_remarks(text, "preamp").faults
    assert (fault.effect, fault.above_gain_db) == ("noisy", gain_db)
    assert fault.state is (State.LIMITED if gain_db else State.SUSPECTED)


@pytest.mark.parametrize(
    ("name", "sure"),
    [
        ("20 XLR cables 5m", False),
        ("3 DI boxes", False),
        ("8 channel preamp", True),
        ("7 pin XLR cable", True),
    ],
)
def test_a_count_before_a_name_is_asked_where_no_column_counts(name: str, sure: bool) -> None:
    (thing,) = read_gear(f"Item,Serial,Where\n{name},,Shelf\n".encode(), YEAR).things
    assert thing.pieces == (1 if sure else None)


@pytest.mark.parametrize(
    "text",
    [
        "i.O.",
        "ribbon re-tensioned Feb",
        "no hum",
        "cable checked ok",
        "was noisy, mended",
        "card & omni caps",
        "taped down",
    ],
)
def test_what_is_fine_mended_or_denied_is_no_fault(text: str) -> None:
    assert not read_remarks(text, "").faults


def test_two_faults_in_a_cell_are_two() -> None:
    read = read_remarks("ch 4 crackles when warm, ch 7 no +48", "preamp")
    assert [(fault.effect, fault.channels) for fault in read.faults] == [
        ("crackles", (4,)),
        ("no_phantom", (7,)),
    ]


@pytest.mark.parametrize(
    ("text", "name", "channels"),
    [
        ("8ch mic pre", "preamp", 8),
        ("Mikrofonvorverstärker 8-Kanal", "preamp", 8),
        ("Préampli 4 voies", "preamp", 4),
        ("Mic stand tall", "stand", 0),
        ("Câble micro 10 m", "cable", 0),
        ("Großmembranmikro", "microphone", 0),
        ("Kopfhörerverstärker 4fach", "headphone_amp", 4),
        ("kick drum mic", "microphone", 0),
        ("microphone with stand", "microphone", 0),
        ("Stand: 31.01.2025", "stand", 0),
        ("Theremin", "", 0),
    ],
)
def test_a_kind_is_known_by_its_words(text: str, name: str, channels: int) -> None:
    kind = read_kind([text])
    assert (kind.name, kind.channels) == (name, channels)


def test_brackets_that_only_say_the_kind_are_no_part_of_the_model() -> None:
    assert without_said("ML-40v (valve)") == "ML-40v"
    assert without_said("DI passive (home made)") == "DI passive (home made)"


@pytest.mark.parametrize(
    ("headings", "cells", "wanted"),
    [
        (["Location", "Make", "Model"], ["Locker 1", "A", "B"], "place"),
        (["Location", "Marque", "Modèle"], ["35,00 €", "A", "B"], "rate"),
        (["Nombre", "Marca", "Estado"], ["LM 2", "A", "ok"], "model"),
        (["Nombre", "Marque", "Modèle"], ["3", "A", "B"], "quantity"),
        (["Make/Model", "Qty", "Notes"], ["A B", "1", ""], "model"),
        (["Unit price", "Qty", "Model"], ["12", "1", "A"], "value"),
        (["Bezeichnung", "Menge", "Raum"], ["AK 7", "1", "Regie"], "model"),
        (["Serail no", "Qty", "Model"], ["12", "1", "A"], "serial"),
    ],
)
def test_a_heading_is_told_by_its_word_its_neighbours_and_what_stands_below(
    headings: list[str], cells: list[str], wanted: str
) -> None:
    layout = find_layout([Row(1, 1, tuple(headings)), Row(2, 2, tuple(cells))], {}, {})
    assert layout.columns[0].field == wanted


def test_headings_in_a_language_that_is_not_known_are_found_by_their_form() -> None:
    text = "Kod;Nazwa;Numer\nM-01;Larkmoor LM 2;10023\nM-02;Larkmoor LM 3;10024\nM-03;Coldwater;10025\n"
    reading = read_gear(text.encode(), YEAR)
    assert (reading.layout.row, reading.units) == (1, 3)
    assert reading.layout.columns[0] == Column(0, "Kod", "tag", certain=False)


def test_a_confirmed_heading_is_known_and_a_choice_for_this_file_wins() -> None:
    rows = [Row(1, 1, ("Got on", "Qty", "Model")), Row(2, 2, ("2021", "1", "LM"))]
    assert find_layout(rows, {("got on", "inventory"): "bought"}, {}).columns[0] == Column(
        0, "Got on", "bought"
    )
    assert find_layout(rows, {("got on", "inventory"): "bought"}, {0: "notes"}).columns[0].field == "notes"


def test_an_answer_for_a_column_is_used_for_all_of_it() -> None:
    text = b"Model;Qty;Bought;Paid\nLM 2;2;03/04/2021;1.500\nLM 3;1;05/06/2021;2.250\n"
    answers = {"column 3: order": MONTH_FIRST, "column 4: sign": "thousands", "column 4: basis": "all"}
    reading = read_gear(text, YEAR, answers=answers)
    assert [(thing.bought, str(thing.value)) for thing in reading.things] == [
        ("2021-03-04", "750"),
        ("2021-05-06", "2250"),
    ]
    assert not [question for question in reading.questions if question.column]


def test_text_in_notes_alone_is_no_thing_and_is_named() -> None:
    reading = read_gear(b"Qty,Make,Model,Notes\n1,A,LM 2,\n,,,goes with the one above\n", YEAR)
    assert reading.units == 1
    assert "goes with the one above" in reading.skipped[0].what


def test_a_column_that_has_no_heading_but_is_full_is_kept_as_a_remark() -> None:
    reading = read_gear(
        b"Qty,Model,What\n1,LM 2,ribbon,blue case\n1,LM 3,ribbon,red case\n1,LM 4,ribbon,\n", YEAR
    )
    assert not reading.errors
    assert reading.things[0].remarks == ("column 4: blue case",)


def test_a_heading_over_rows_that_says_broken_asks_of_each() -> None:
    reading = read_gear(b"Qty,Model,What\n1,LM 2,ribbon\nFOR REPAIR,,\n1,LM 3,ribbon\n", YEAR)
    first, second = reading.things
    assert not first.faults
    assert second.faults[0].remark.state is State.OUT


def test_what_is_in_no_room_is_away_and_asked() -> None:
    (thing,) = read_gear(b"Qty,Model,Lives\n1,LM 2,OUT\n", YEAR).things
    assert (thing.place, thing.state, thing.faults[0].remark.state) == ("", "away", State.AWAY)


@pytest.mark.parametrize(
    "headings", ["Item,Problem,Date,Cost", "Gerät;Fehler;Datum;Kosten", "Appareil;Panne;Date;Coût"]
)
def test_a_list_of_faults_is_a_log_and_makes_no_units(headings: str) -> None:
    delimiter = ";" if ";" in headings else ","
    row = delimiter.join(["Rack 1", "dead", "03.02.2024", "20"])
    reading = read_gear(f"{headings}\n{row}\n".encode("cp1252"), YEAR)
    assert (reading.is_log, reading.units, len(reading.events)) == (True, 0, 1)


@pytest.mark.parametrize(
    "text", ["needs 48V", "48V needed", "nur mit 48V", "nécessite 48V", "phantom required"]
)
def test_a_need_of_phantom_is_kept_with_the_unit(text: str) -> None:
    read = read_remarks(text, "microphone")
    assert (read.needs, read.ban, read.faults) == (True, False, ())


@pytest.mark.parametrize(
    ("text", "effect"),
    [
        ("missing", "missing"),
        ("clip missing", "other"),
        ("à réviser", "other"),
        ("läuft nicht", "dead"),
        ("for spares", "retired"),
        ("pad broken", "dead"),
        ("valvole da cambiare", "other"),
    ],
)
def test_words_of_many_houses_are_understood(text: str, effect: str) -> None:
    assert [fault.effect for fault in read_remarks(text, "").faults] == [effect]


@pytest.mark.parametrize(
    ("row", "tags", "faults"),
    [
        ("INV-0010 à INV-0012,DI active,INV-0011 en panne", 3, [("dead", (1,))]),
        ("7,LDC mic,away at mender since 3 Sept", 1, [("away", (0,))]),
        ("9,8 ch pre,all ok except 5 (no 48v)", 1, [("no_phantom", (0,))]),
        ("9,Préampli 2 voies,Voie 1 : alim fantôme absente", 1, [("no_phantom", (0,))]),
    ],
)
def test_what_a_row_says_of_its_pieces(
    row: str, tags: int, faults: list[tuple[str, tuple[int, ...]]]
) -> None:
    (thing,) = read_gear(f"Tag,Model,Notes\n{row}\n".encode(), YEAR).things
    assert len(thing.tags) == thing.pieces == tags
    assert [(said.remark.effect, said.of) for said in thing.faults] == faults


def test_a_room_that_stands_over_rows_is_their_place_where_no_column_names_one() -> None:
    reading = read_gear(b"Item;Make;Serial\nStudio B;;\nLDC mic;Marlow;007\n", YEAR)
    (thing,) = reading.things
    assert (thing.place, [each.row for each in reading.skipped]) == ("Studio B", [2])


@pytest.mark.parametrize("cell", ['"=""00012"""', "'00012", "00012"])
def test_zeros_in_front_stay_however_the_spreadsheet_was_told_to_keep_them(cell: str) -> None:
    reading = read_gear(f"Tag,Model,Serial\nA1,LDC mic,{cell}\n".encode(), YEAR)
    assert reading.things[0].serials == ("00012",)
    assert not reading.questions
