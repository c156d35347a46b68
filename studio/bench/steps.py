"""The steps of a repair as pages offer them: which form, which use case, and what is said afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from studio import faults
from studio.bench import forms
from studio.models import Fault, Person
from studio.photos.keeping import keep_photo

Said = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Step:
    """said: “is on the bench”, after the thing's name. Of several outcomes, `said` gets what was typed."""

    form: type[forms.StepForm]
    act: Callable[[Person, Fault, Said], object]
    said: Callable[[Fault, Said], str]


def _look(by: Person, fault: Fault, said: Said) -> None:
    faults.look_at(by, fault, said["reproduced"], said["note"])


def _start(by: Person, fault: Fault, said: Said) -> None:
    faults.start_bench(by, fault)


def _send(by: Person, fault: Fault, said: Said) -> None:
    with transaction.atomic():
        faults.send_away(by, fault, said["to"], said["cost"], said["returns"])
        _nobody_knows(by, fault, said)


def _parts(by: Person, fault: Fault, said: Said) -> None:
    with transaction.atomic():
        faults.wait_for_parts(by, fault, said["parts"], said["returns"])
        _nobody_knows(by, fault, said)


def _nobody_knows(by: Person, fault: Fault, said: Said) -> None:
    """A return date that was taken out of the form no longer holds."""
    if said["returns"] is None and fault.expected_back is not None:
        faults.set_expected_back(by, fault, None)


def _note(by: Person, fault: Fault, said: Said) -> None:
    with transaction.atomic():
        faults.note(by, fault, said["note"], said["minutes"], said["cost"], said["parts"])
        if said["photo"]:
            keep_photo(by, fault.unit, said["photo"], fault)


def _back(by: Person, fault: Fault, said: Said) -> None:
    faults.set_expected_back(by, fault, said["back"])


def _judge(by: Person, fault: Fault, said: Said) -> None:
    faults.set_severity(by, fault, said["severity"])


def _mend(by: Person, fault: Fault, said: Said) -> None:
    faults.mend(by, fault, said["outcome"], heard=said["heard"])


def _hear(by: Person, fault: Fault, said: Said) -> None:
    faults.hear(by, fault, said["fine"] == "yes", said["words"])


def _mended(fault: Fault, said: Said) -> str:
    return "is mended and free again" if said["heard"] else "is back, and waits to be heard in use"


def _heard(fault: Fault, said: Said) -> str:
    return "is back in service" if said["fine"] == "yes" else "is on the list again"


def _always(words: str) -> Callable[[Fault, Said], str]:
    return lambda fault, said: words


STEPS = {
    "looked-at": Step(forms.LookForm, _look, _always("has been looked at")),
    "on-the-bench": Step(forms.StartForm, _start, _always("is on the bench")),
    "away": Step(forms.AwayForm, _send, _always("is away for repair")),
    "parts": Step(forms.PartsForm, _parts, _always("waits for parts")),
    "note": Step(forms.NoteForm, _note, _always("has a new note")),
    "expected-back": Step(forms.BackForm, _back, _always("has a new return date")),
    "how-bad": Step(
        forms.JudgeForm, _judge, lambda fault, said: f"is {Fault.Severity(said['severity']).label}"
    ),
    "mended": Step(forms.MendForm, _mend, _mended),
    "heard": Step(forms.HearForm, _hear, _heard),
}
"""By the last part of their address."""
