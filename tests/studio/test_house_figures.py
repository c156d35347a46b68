"""Every figure of a kind can be typed in the house's forms, and stands on the unit's page."""

from __future__ import annotations

import pytest
from django.test import Client

from studio.house.spec_forms import OF_MODEL, OF_STOCK, row_of_figures, spec_forms
from studio.models import CableSpec, GearModel, MainsSpec, PreampSpec, Role, Stock
from tests.house import make_model, make_person, make_site, make_unit

Kind = GearModel.Kind

SAID: dict[str, tuple[dict[str, str], list[str]]] = {
    Kind.MICROPHONE: (
        {
            "spec-transducer": "large condenser",
            "spec-patterns": "cardioid, omni",
            "spec-phantom": "needs",
            "spec-current_ma": "3.4",
            "spec-sensitivity_mv_pa": "21",
            "spec-max_spl_db": "137",
            "spec-pad_db": "10",
            "spec-self_noise_dba": "9.5",
            "spec-output_ohm": "150",
            "spec-weight_g": "560",
            "mains-valves": "on",
        },
        ["3.4 mA", "21 mV/Pa", "137 dB SPL", "10 dB", "9.5 dB(A)", "150 ohm", "560 g", "competent person"],
    ),
    Kind.DI: ({"spec-battery": "on", "spec-phantom": "indifferent"}, ["passive", "works from one too"]),
    Kind.PREAMP: (
        {
            "spec-switching": "per_bank",
            "spec-bank_size": "4",
            "spec-gain_step_db": "3",
            "spec-phantom_supply_ma": "80",
            "spec-input_ohms": "1200, 300",
            "spec-high_pass_hz": "45 / 70",
            "spec-polarity": "on",
            "spec-transformer": "on",
            "spec-output_level": "on",
        },
        [
            *("one switch a bank of 4", "3 dB", "80 mA", "1200 300 ohm", "45 70 Hz", "can be switched"),
            *("may be driven", "can be turned down"),
        ],
    ),
    Kind.EQUALISER: ({"spec-bands": "4", "spec-stereo_link": "on"}, ["4 a channel", "set together"]),
    Kind.COMPRESSOR: (
        {"spec-ratios": "2:1, 4:1, 8:1", "spec-threshold": "fixed", "spec-stereo_link": "on"},
        ["2 4 8 to 1", "fixed threshold", "can be linked"],
    ),
    Kind.LIMITER: (
        {"spec-threshold": "variable", "spec-attack_ms": "30, 10, 0.3", "spec-automatic": "on"},
        ["variable threshold", "30 10 0.3 ms", "can be automatic"],
    ),
    Kind.CONVERTER: (
        {"spec-full_scale_dbu": "18", "spec-rates_khz": "44.1 48 96"},
        ["18 dBu", "44.1 48 96 kHz"],
    ),
    Kind.RECORDER: ({"spec-full_scale_dbu": "-4", "mains-weight_kg": "31"}, ["-4 dBu", "31 kg"]),
    Kind.MONITOR: ({"mains-power_w": "120"}, ["120 W"]),
    Kind.HEADPHONE_AMP: ({"spec-least_load_ohm": "16", "spec-impedance_ohm": "10"}, ["16 ohm", "10 ohm"]),
    Kind.HEADPHONES: (
        {"spec-impedance_ohm": "80", "spec-sensitivity_db_mw": "96"},
        ["80 ohm", "96 dB SPL at 1 mW", "open: sound gets out"],
    ),
    Kind.INSTRUMENT: ({"spec-weight_kg": "450"}, ["450 kg"]),
    Kind.AMPLIFIER: (
        {"spec-mains_v": "230", "spec-power_w": "140", "spec-weight_kg": "28.5", "spec-valves": "on"},
        ["230 V", "140 W", "28.5 kg", "competent person"],
    ),
    Kind.EFFECT: ({"spec-power_w": "15"}, ["15 W"]),
    Kind.OTHER: ({"spec-power_w": "15"}, ["15 W"]),
}


@pytest.fixture
def keeper(client: Client, db: None) -> Client:
    client.force_login(make_person(Role.MANAGER, Role.ENGINEER, site=make_site()))
    return client


def test_the_figures_of_every_kind_are_kept_and_shown(keeper: Client) -> None:
    assert SAID.keys() == OF_MODEL.keys()
    for kind, (figures, shown) in SAID.items():
        unit = make_unit(f"unit-{kind}".replace("_", "-"), make_model(kind))
        _save(keeper, "models", unit.gear_model, figures)
        page = keeper.get(f"/gear/{unit.tag}").content.decode()
        facts = page.partition("What it is")[2].partition("History")[0]
        assert [words for words in shown if words not in facts] == [], kind


def test_saving_again_keeps_every_figure(keeper: Client) -> None:
    for kind, (figures, _) in SAID.items():
        model = make_model(kind)
        _save(keeper, "models", model, figures)
        before = _figures(GearModel.objects.get(pk=model.pk))
        _save(
            keeper,
            "models",
            model,
            {name: str(value) for name, value in before.items() if value not in (None, False)},
        )
        assert _figures(GearModel.objects.get(pk=model.pk)) == before, kind


def test_figures_that_nobody_gave_are_not_stored(keeper: Client) -> None:
    model = make_model(Kind.AMPLIFIER)
    _save(keeper, "models", model, {})
    assert not MainsSpec.objects.exists()


def test_stands_and_cables_have_figures_too(keeper: Client) -> None:
    site = make_site()
    assert {*OF_STOCK} == {Stock.Kind.STAND, Stock.Kind.CABLE}
    stand = Stock.objects.create(site=site, kind="stand", name="tall boom", count=9)
    cable = Stock.objects.create(site=site, kind="cable", name="line 10 m", count=9)
    _save(keeper, "stock", stand, {"spec-load_kg": "6.5", "spec-reach_m": "2.1", "spec-height_m": "3"})
    _save(keeper, "stock", cable, {"spec-ends": "XLR", "spec-length_m": "10", "spec-capacitance_pf_m": "95"})
    stand.refresh_from_db()
    assert (stand.stand.load_kg, stand.stand.reach_m, stand.stand.height_m) == (6.5, 2.1, 3.0)
    assert CableSpec.objects.get(stock=cable).capacitance_pf_m == 95


@pytest.mark.parametrize(
    ("kind", "figures", "sentence"),
    [
        (Kind.AMPLIFIER, {"spec-weight_kg": "-3"}, "This can’t be below zero."),
        (Kind.AMPLIFIER, {"spec-power_w": "lots"}, "Enter a number."),
        (Kind.AMPLIFIER, {"spec-power_w": "nan"}, "Enter a number."),
        (
            Kind.PREAMP,
            {"spec-switching": "none", "spec-input_ohms": "high"},
            "Write figures with a space between",
        ),
        (Kind.PREAMP, {"spec-switching": "none", "spec-bank_size": "0"}, "A bank holds at least 1 channel."),
        (
            Kind.PREAMP,
            {"spec-switching": "none", "spec-gain_min_db": "60", "spec-gain_max_db": "10"},
            "Less than the least gain",
        ),
    ],
)
def test_a_figure_that_is_none_gets_a_sentence_and_is_kept_in_the_form(
    keeper: Client, kind: str, figures: dict[str, str], sentence: str
) -> None:
    model = make_model(kind)
    response = keeper.post(f"/house/models/{model.pk}", {**_own(model), **figures})
    page = response.content.decode().replace("&#x27;", "’").replace("'", "’")
    assert response.status_code == 422
    assert sentence in page
    assert all(f'value="{value}"' in page for value in figures.values() if value != "none")
    assert not PreampSpec.objects.exists()
    assert not MainsSpec.objects.exists()


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("2:1, 4:1", "2 4"),
        ("2 4 8", "2 4 8"),
        ("45 / 70", "45 70"),
        ("44.1; 48", "44.1 48"),
        ("44,1", "44,1"),
        ("", ""),
    ],
)
def test_a_row_of_figures_is_read_as_people_write_it(typed: str, kept: str) -> None:
    assert row_of_figures(typed) == kept


def _own(thing: GearModel | Stock) -> dict[str, str | int]:
    if isinstance(thing, Stock):
        return {"site": thing.site_id, "kind": thing.kind, "name": thing.name, "count": thing.count}
    return {"kind": thing.kind, "maker": thing.maker, "name": thing.name, "channels": thing.channels}


def _save(client: Client, slug: str, thing: GearModel | Stock, figures: dict[str, str]) -> None:
    response = client.post(f"/house/{slug}/{thing.pk}", {**_own(thing), **figures})
    assert response.status_code == 302, response.content.decode()


def _figures(model: GearModel) -> dict[str, object]:
    return {
        f"{form.prefix}-{name}": form.initial.get(name)
        for form in spec_forms(model, None)
        for name in form.fields
    }
