"""Two people changed one session: what the second is told, and the form that keeps what they typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from django.http import QueryDict

from bookings.models import Session, SessionEntry
from bookings.sessions.forms import SessionForm, as_posted

COUNTED = ("booked", "changed", "cancelled", "confirmed", "released", "fell")


@dataclass(frozen=True, slots=True)
class Meeting:
    """entries: what was changed meanwhile; both: fields that both changed, (label, stands, typed)."""

    entries: Sequence[SessionEntry]
    both: Sequence[tuple[str, str, str]]
    form: SessionForm


def meet(typed: SessionForm, current: Session) -> Meeting:
    """A form on the present session: fields that were not touched follow it, typed ones stay typed."""
    sent, data = cast(QueryDict, typed.data), as_posted(current)
    stands, both = SessionForm(session=current), []
    for name in typed.changed_data:
        if name in ("version", "form_key"):
            continue
        before, now, mine = sent.getlist(f"initial-{name}"), data.getlist(name), sent.getlist(name)
        if name in stands.initial and now not in (before, mine):
            label = str(stands.fields[name].label)
            both.append((label, in_words(stands, name, now), in_words(typed, name, mine)))
        data.setlist(name, mine)
    entries = entries_since(current, typed.cleaned_data.get("version") or 0)
    return Meeting(entries, both, SessionForm(data, session=current))


def entries_since(session: Session, version: int) -> list[SessionEntry]:
    """What was changed after that version: each of these entries raised it by one."""
    counted = session.history.filter(what__in=COUNTED).order_by("at", "pk").select_related("by")
    return list(counted[min(max(version, 0), session.version) :])


def in_words(form: SessionForm, name: str, raw: list[str]) -> str:
    """What a posted value looks like to people."""
    choices = getattr(form.fields[name], "choices", None)
    if choices is None:
        return raw[0].replace("T", " ") if name in form.times and raw else "".join(raw)
    labels = {str(value): str(label) for value, label in choices}
    return ", ".join(labels.get(one, one) for one in raw if one) or "none"
