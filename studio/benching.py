"""Benches: each measures a thing beside its bare lower bound, in the same run. A bench is never a timed test.

A package's `benches.py` holds them:

    @bench("plan 16 inputs", unit="s", target=1.0)
    def plan_sixteen() -> Measured:
        return Measured(value=..., baseline=..., how="...")
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import connection
from django.utils.module_loading import autodiscover_modules


@dataclass(frozen=True)
class Measured:
    """`value` and `baseline` in the bench's unit; `how` says what was measured and what the baseline is."""

    value: float
    baseline: float
    how: str


@dataclass(frozen=True)
class Row:
    """`target` bounds `value` from above, or from below where `more_is_better`; None sets no bound.

    `most_times` bounds the ratio from above.
    """

    name: str
    value: float
    unit: str
    baseline: float
    ratio: float | None
    target: float | None
    most_times: float | None
    ok: bool
    how: str


@dataclass(frozen=True)
class Bench:
    name: str
    unit: str
    target: float | None
    more_is_better: bool
    measure: Callable[[], Measured]
    most_times: float | None = None

    def row(self) -> Row:
        found = self.measure()
        ratio = found.value / found.baseline if found.baseline else None
        ok = self.meets_target(found.value) and (ratio is None or ratio <= (self.most_times or ratio))
        return Row(
            self.name,
            found.value,
            self.unit,
            found.baseline,
            ratio,
            self.target,
            self.most_times,
            ok,
            found.how,
        )

    def meets_target(self, value: float) -> bool:
        if self.target is None:
            return True
        return value >= self.target if self.more_is_better else value <= self.target


BENCHES: dict[str, Bench] = {}


def bench(
    name: str,
    unit: str,
    target: float | None = None,
    more_is_better: bool = False,
    most_times: float | None = None,
) -> Callable[[Callable[[], Measured]], Callable[[], Measured]]:
    """Enters a function that measures under `name`."""

    def enter(measure: Callable[[], Measured]) -> Callable[[], Measured]:
        BENCHES[name] = Bench(name, unit, target, more_is_better, measure, most_times)
        return measure

    return enter


def find(names: list[str]) -> list[Bench]:
    """The benches of these names, or all; KeyError holds the first name that there is none of."""
    autodiscover_modules("benches")
    return [BENCHES[name] for name in names] if names else list(BENCHES.values())


@contextmanager
def own_database() -> Iterator[None]:
    """An empty, migrated database instead of the house's own."""
    own_name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(own_name, verbosity=0)
