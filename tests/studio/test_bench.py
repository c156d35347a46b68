"""The bench command, on benches made for the purpose; the site's own are not timed by any test."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from studio import benching
from studio.benching import Measured, bench


@pytest.fixture(autouse=True)
def only_these_benches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(benching, "BENCHES", {})
    bench("quick", unit="s", target=1.0)(lambda: Measured(0.5, 0.25, "half against a quarter"))
    bench("slow", unit="s", target=1.0)(lambda: Measured(2.0, 0.5, "too long"))
    bench("rate", unit="1/s", target=100.0, more_is_better=True)(lambda: Measured(200.0, 0.0, "no bound"))


def run(*arguments: str) -> str:
    out = StringIO()
    call_command("bench", *arguments, stdout=out)
    return out.getvalue()


def test_json_has_a_row_a_measurement_with_the_ratio_to_the_baseline() -> None:
    assert json.loads(run("quick", "--json")) == {
        "name": "quick",
        "value": 0.5,
        "unit": "s",
        "baseline": 0.25,
        "ratio": 2.0,
        "target": 1.0,
        "most_times": None,
        "ok": True,
        "how": "half against a quarter",
    }


def test_without_names_every_bench_is_run_the_sites_own_among_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(benching, "autodiscover_modules", lambda name: None)
    rows = [json.loads(line) for line in run("--json").splitlines()]
    assert [(row["name"], row["ok"]) for row in rows] == [("quick", True), ("slow", False), ("rate", True)]


def test_a_target_is_a_floor_where_more_is_better() -> None:
    bench("low rate", unit="1/s", target=100.0, more_is_better=True)(lambda: Measured(99.0, 1.0, "too few"))
    assert json.loads(run("low rate", "--json"))["ok"] is False


def test_a_ratio_may_be_bounded_as_well() -> None:
    bench("far off", unit="s", most_times=3)(lambda: Measured(4.0, 1.0, "four times"))
    assert json.loads(run("far off", "--json"))["ok"] is False
    assert "3 times MISSED" in run("far off")


def test_a_bench_without_baseline_has_no_ratio() -> None:
    assert json.loads(run("rate", "--json"))["ratio"] is None


def test_the_text_says_which_target_was_missed() -> None:
    heading, quick, _how, slow, _how = run("quick", "slow").splitlines()
    assert "baseline" in heading
    assert quick.split() == ["quick", "0.5", "s", "0.25", "2.0", "1", "met"]
    assert slow.split() == ["slow", "2", "s", "0.5", "4.0", "1", "MISSED"]


def test_an_unknown_name_is_answered_with_the_names_there_are() -> None:
    with pytest.raises(CommandError, match=r"There is no bench 'fast'. There are: quick, slow, rate"):
        run("fast")
