"""What a player is to hear, chosen by hand: a mix, or no headphones; kept by later plans."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db import transaction
from django.utils import timezone

from bookings.models import Session
from studio.access import Act, require
from studio.models import Person
from tasks.cues.planning import SHARED, Cue
from tasks.floor.stations import token
from tasks.models import CueChoice

NONE = "none"


class CueForm(forms.Form):
    """mix: empty for as planned, “none” for no headphones, else the name of a mix."""

    mix = forms.CharField(label="Mix", max_length=40, required=False)

    def __init__(self, data: Any, cue: Cue, chosen: CueChoice | None) -> None:
        self.cue = cue
        super().__init__(data, prefix=f"cue-{token(cue.player)}", initial={"mix": _said(chosen)})
        attrs = {"aria-label": f"Mix of {cue.player}", "list": "mixes", "placeholder": "as planned"}
        self.fields["mix"].widget.attrs.update(attrs)
        self.fields["mix"].error_messages["max_length"] = "A mix is named in 40 letters or fewer."

    @property
    def is_sent(self) -> bool:
        """Not where the page was loaded before this player came onto the list."""
        return f"{self.prefix}-mix" in self.data

    def clean_mix(self) -> str:
        return " ".join(str(self.cleaned_data["mix"]).split())


def _said(chosen: CueChoice | None) -> str:
    if chosen is None:
        return ""
    return chosen.mix if chosen.wears else NONE


def cue_forms(session: Session, cues: Sequence[Cue], data: Any = None) -> list[CueForm]:
    """One query."""
    chosen = {row.player: row for row in CueChoice.objects.filter(session=session)}
    return [CueForm(data, cue, chosen.get(cue.player)) for cue in cues]


def keep_choices(by: Person, session: Session, typed: Sequence[CueForm]) -> bool:
    """Whether anything was chosen anew. The forms are valid. Raises PermissionDenied."""
    require(by, Act.PLAN)
    changed = [form for form in typed if form.is_sent and form.has_changed()]
    with transaction.atomic():
        for form in changed:
            player, mix = form.cue.player, form.cleaned_data["mix"]
            if not mix:
                CueChoice.objects.filter(session=session, player=player).delete()
                continue
            wears = mix.casefold() != NONE
            CueChoice.objects.update_or_create(
                session=session,
                player=player,
                defaults={"mix": mix if wears else "", "wears": wears, "by": by, "at": timezone.now()},
            )
    return bool(changed)


def suggestions(cues: Sequence[Cue]) -> list[str]:
    """Mixes that are there, and no headphones at all."""
    return [*dict.fromkeys([SHARED, *(cue.mix for cue in cues if cue.mix)]), NONE]
