"""Small sentences: listing and naming in plain English."""

from __future__ import annotations

import re
from collections.abc import Sequence

DI_WORD = re.compile(r"\bdi\b")
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")


def ordinal(rank: int) -> str:
    """0 is first."""
    return _ORDINALS[rank] if rank < len(_ORDINALS) else f"number {rank + 1}"


def plural(noun: str) -> str:
    return noun if noun.endswith("s") else f"{noun}s"


def listed(items: Sequence[object], last: str = "and") -> str:
    words = [str(item) for item in items]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}" if words else ""


def inputs(numbers: Sequence[int]) -> str:
    """input 3; inputs 3, 4 and 9."""
    return f"input{'' if len(numbers) == 1 else 's'} {listed(numbers)}"


def spans(numbers: Sequence[int]) -> str:
    """channel 3; channels 1–4; channels 1–3 and 7."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs]
    return f"channel{'' if len(numbers) == 1 else 's'} {listed(parts)}"


def kind(name: str) -> str:
    """A kind as it is written in a sentence: active DI, small condenser."""
    return f"{name[:-2]}DI" if name.endswith(" di") else name


def stand(name: str) -> str:
    """tall boom stand; clip."""
    return name if name.endswith(("stand", "clip")) else f"{name} stand"


def kg(weight: float) -> str:
    return f"{weight:g} kg"


def metres(length: float) -> str:
    return f"{length:g} m"


def db(level: float) -> str:
    return f"{level:g} dB"


def sentence(text: str) -> str:
    """Capital first, full stop last; the kinds' “di” as the trade writes it."""
    text = DI_WORD.sub("DI", text)
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '!', '?')) else '.'}"
