"""All units as a table that sorts by anything."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString

from studio.gear.answers import unit_address
from studio.gear.state import state_of
from studio.models import GearUnit, Phantom


class UnitTable(tables.Table):  # type: ignore[misc]
    tag = tables.Column("Unit", attrs={"th": {"class": "stays"}, "td": {"class": "stays"}})
    state = tables.Column(
        "State", empty_values=(), order_by=("-rank", "tag"), attrs={"td": {"class": "wide"}}
    )
    kind = tables.Column(
        "Kind", accessor="gear_model__get_kind_display", order_by=("gear_model__kind", "tag")
    )
    model = tables.Column("Model", accessor="gear_model", order_by=("gear_model__maker", "gear_model__name"))
    channels = tables.Column(
        "Channels",
        accessor="gear_model__channels",
        attrs={"th": {"class": "number"}, "td": {"class": "number"}},
    )
    phantom = tables.Column("Phantom", accessor="phantom_said")
    where = tables.Column("Where", accessor="where", order_by=("site__name", "home_room__name", "storage"))

    class Meta:
        attrs = {"class": "list"}
        template_name = "studio/gear/table.html"
        order_by = "tag"
        default = "–"
        empty_text = "No unit is like that. Take a filter away."

    def __init__(self, *args: Any, at: datetime | None = None, **kwargs: Any) -> None:
        """at: the instant whose states are said, now if none is given."""
        super().__init__(*args, **kwargs)
        self.at = at
        if at:
            self.columns["state"].column.verbose_name = "State then"

    def render_tag(self, record: GearUnit) -> SafeString:
        return format_html('<a href="{}"><b>{}</b></a>', unit_address(record.tag), record.tag)

    def render_state(self, record: GearUnit) -> str:
        state = state_of(record, at=self.at)
        return render_to_string(
            "parts/state.html", {"mark": state.mark, "words": state.words, "more": state.more}
        )

    def render_phantom(self, value: str) -> str:
        return str(Phantom(value).label) if value else "–"

    def render_channels(self, value: int) -> str:
        return str(value) if value else "–"
