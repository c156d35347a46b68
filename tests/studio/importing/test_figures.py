"""Figures in a list: read where figure and unit are sure, and never lost where they aren't."""

from __future__ import annotations

import pytest

from studio.gearlists.taking_in import store
from studio.importing.figures import length_in, read_figure
from studio.importing.reading import read_gear
from studio.models import CableSpec, GearModel, GearUnit, MainsSpec, MicrophoneSpec, Stock
from tests.house import make_site

YEAR = 2026


@pytest.mark.parametrize(
    ("field", "cell", "heading", "value"),
    [
        ("weight_g", "1,2 kg", "Gewicht", 1200),
        ("weight_g", "450 g", "Weight", 450),
        ("weight_g", "2.1", "Weight (kg)", 2100),
        ("weight_g", "2 lbs", "Weight", 907.18474),  # international yard and pound agreement, 1959
        ("weight_g", "2.1", "Weight", None),
        ("weight_g", "1.500 kg", "Gewicht", None),  # thousands, or a decimal sign
        ("weight_g", "heavy", "Weight", None),
        ("weight_g", "0 kg", "Weight", None),
        ("impedance_ohm", "150 Ω", "Impedance", 150),
        ("impedance_ohm", "2k", "Impedance", 2000),
        ("impedance_ohm", "80", "Ohm", 80),
        ("impedance_ohm", "150-200", "Impedance", None),
        ("current_ma", "3,5 mA", "Phantom current", 3.5),
        ("max_spl_db", "134 dB", "Max SPL", 134),
        ("max_spl_db", "1340", "Max SPL", None),
        ("self_noise_dba", "12 dB(A)", "Self-noise", 12),
        ("sensitivity_mv_pa", "20 mV/Pa", "Sensitivity", 20),
        ("sensitivity_mv_pa", "-34 dBV", "Sensitivity", None),
        ("power_w", "1.2 kW", "Power", 1200),
        ("power_w", "48V", "Power", None),
        ("length_m", "10m", "Length", 10),
        ("length_m", "10", "Length (ft)", 3.048),  # international yard and pound agreement, 1959
        ("length_m", "10", "Length", None),
    ],
)
def test_a_figure_is_read_with_its_unit_or_not_at_all(
    field: str, cell: str, heading: str, value: float | None
) -> None:
    assert read_figure(field, cell, heading) == value


@pytest.mark.parametrize(
    ("name", "length"),
    [("XLR 10 m", 10), ("XLR 7,5m", 7.5), ("multicore 30M", 30), ("XLR", None), ("XLR 5 m or 10 m", None)],
)
def test_a_cables_name_gives_its_length(name: str, length: float | None) -> None:
    assert length_in(name) == length


LIST = """Tag,Type,Maker,Model,Polar pattern,Impedance,Weight,Power,Sensitivity
C-1,large condenser microphone,Salterns,Brine,cardioid and omni,150 ohm,480 g,,-38 dBV
A-1,valve guitar amplifier,Hayrick,Flail,,,19 kg,120 W,
"""


@pytest.mark.django_db
def test_figures_go_to_the_new_model_and_stay_in_the_remark() -> None:
    reading = read_gear(LIST.encode(), YEAR)
    store(reading, make_site())
    brine = MicrophoneSpec.objects.get()
    assert (brine.patterns, brine.output_ohm, brine.weight_g, brine.sensitivity_mv_pa) == (
        "cardioid and omni",
        150,
        480,
        None,
    )
    flail = MainsSpec.objects.get()
    assert (flail.power_w, flail.weight_kg, flail.valves) == (120, 19, True)
    assert "Sensitivity: -38 dBV" in GearUnit.objects.get(tag="C-1").remark


@pytest.mark.django_db
def test_a_second_time_a_figure_changes_nothing_that_the_house_has_set_right() -> None:
    store(read_gear(LIST.encode(), YEAR), make_site())
    MainsSpec.objects.update(weight_kg=18.5)
    again = store(read_gear(LIST.encode(), YEAR), make_site())
    assert (again.new, again.changed) == (0, 0)
    assert MainsSpec.objects.get().weight_kg == 18.5
    assert GearModel.objects.count() == 2


@pytest.mark.django_db
def test_cables_of_two_lengths_are_two_kinds_of_stock() -> None:
    cables = "Item,Type,Length,Qty\nXLR,cable,10 m,6\nXLR,cable,5 m,8\nXLR,cable,long,2\n"
    store(read_gear(cables.encode(), YEAR), make_site())
    assert dict(Stock.objects.values_list("name", "count")) == {"XLR 10 m": 6, "XLR 5 m": 8, "XLR": 2}
    assert dict(CableSpec.objects.values_list("stock__name", "length_m")) == {"XLR 10 m": 10, "XLR 5 m": 5}
