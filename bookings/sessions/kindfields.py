"""The field of the booking form that says what kind of session it is, by the name on the site's own list."""

from __future__ import annotations

from collections.abc import Iterable

from django import forms
from django.db.models import Q

from bookings.models import Session, SessionKind
from studio.models import Room, Site


class KindFields(forms.Form):
    """Sites share names: a kind is chosen by name, and the list of the room's site says what it means there."""

    session: Session | None

    kind = forms.ChoiceField(
        label="Kind of session",
        required=False,
        error_messages={
            "invalid_choice": "“%(value)s” is on no site's list (any more). Choose another kind."
        },
    )

    def offer_kinds(self) -> None:
        standing = Q(pk=self.session.kind_id) if self.session and self.session.kind_id else Q(pk__in=[])
        rows = SessionKind.objects.filter(Q(offered=True) | standing).select_related("site")
        self.kinds = list(rows.order_by("order", "name"))
        field = self.fields["kind"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - tells the type checker
        field.choices = [("", "not said"), *named(self.kinds)]

    @property
    def chosen_kind(self) -> SessionKind | None:
        """The kind of that name on the list of the room's site, once both are known."""
        name, room = self.cleaned_data.get("kind"), self.cleaned_data.get("room")
        return self._kind_at(room.site, name) if name and room else None

    @property
    def nature(self) -> str:
        return self.chosen_kind.nature if self.chosen_kind else SessionKind.Nature.WORK

    def check_kind(self, room: Room) -> None:
        name = self.cleaned_data.get("kind")
        if name and self.chosen_kind is None:
            theirs = ", ".join(kind.name for kind in self.kinds if kind.site_id == room.site_id) or "none yet"
            self.add_error("kind", f"{room.site} has no “{name}” on its list. It has: {theirs}.")

    def _kind_at(self, site: Site, name: str) -> SessionKind | None:
        own = (kind for kind in self.kinds if kind.site_id == site.pk)
        return next((kind for kind in own if kind.name.casefold() == name), None)


def named(kinds: Iterable[SessionKind]) -> list[tuple[str, str]]:
    """Each name once, with the sites' names where not all of them have it."""
    rows = list(kinds)
    sites, owners = {kind.site for kind in rows}, dict[str, list[SessionKind]]()
    for kind in rows:
        owners.setdefault(kind.name.casefold(), []).append(kind)
    return [
        (folded, own[0].name if len(own) == len(sites) else f"{own[0].name} ({_sites(own)})")
        for folded, own in owners.items()
    ]


def _sites(kinds: Iterable[SessionKind]) -> str:
    return ", ".join(sorted(kind.site.name for kind in kinds))
