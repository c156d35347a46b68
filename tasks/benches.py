"""Benches of reading and planning."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

from studio.benching import Measured, bench
from tasks import benches_of_lists as benches_of_lists
from tasks.catalogue import load_catalogue
from tasks.planning.bench_cases import bare_seconds, snapshot
from tasks.planning.plan import plan
from tasks.reading import read

ROUNDS = 5
LINES = [
    "1 Kick in\tboundary\t",
    "2 Snare top\tdynamic\tshort boom",
    "3 OH L/R\tsmall condenser\ttall boom",
    "4 Bass DI\tactive DI\t",
    "5 2x el. guitar\tdynamic\tshort boom",
    "6 Keys (stereo)\tDI\t",
    "7 lead vox\tlarge condenser\ttall boom",
    "8 Flügelhorn\tribbon\ttall boom",
]


def plan_of(inputs: int, target_s: float) -> None:
    @bench(f"plan {inputs} inputs", unit="s", target=target_s)
    def measure() -> Measured:
        wanted = snapshot(inputs)
        made = plan(wanted)
        if made.solver.status != "proven":
            raise RuntimeError(f"{inputs} inputs were not proven optimal: {made.solver}")
        return Measured(
            value=median_seconds(lambda: plan(wanted)),
            baseline=median(bare_seconds(wanted) for _ in range(ROUNDS)),
            how=f"snapshot to proven optimum with reasons, median of {ROUNDS}; "
            "baseline: the same solver on the bare matching of units to inputs alone",
        )


for size, seconds in [(16, 0.2), (48, 0.6), (96, 1.5)]:
    plan_of(size, seconds)


@bench("read 40 lines", unit="s", target=0.1)
def read_forty_lines() -> Measured:
    catalogue, text = load_catalogue(), "\n".join(LINES * 5)
    read(text, catalogue)
    return Measured(
        value=median_seconds(lambda: read(text, catalogue)),
        baseline=median_seconds(lambda: [line.casefold().split() for line in text.split("\n")]),
        how=f"one list of 40 rows, median of {ROUNDS}; baseline: splitting the same text into folded words",
    )


def median_seconds(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return median(taken)
