"""The floor of a room as text, one thing a line: what is typed stays typed until all of it makes sense."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django import forms

from studio.floors import reading, rules
from studio.floors.records import Area, Fixed, Opening, Point, Use, WallBox
from studio.models import Room, RoomFloor

MOST_LETTERS = 10_000


def lines_field(label: str, help_text: str, example: str, rows: int = 4) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": rows, "placeholder": example, "spellcheck": "false"})
    return forms.CharField(
        label=label, help_text=help_text, required=False, max_length=MOST_LETTERS, widget=widget, strip=False
    )


class FloorForm(forms.Form):
    use = forms.ChoiceField(label="What it is for", choices=RoomFloor.Use.choices)
    outline = lines_field(
        "Outline",
        "One corner a line, in metres: across, then down the page. Rooms that belong together are measured from one "
        "common corner. Empty: not known.",
        "0, 0\n8.4, 0\n8.4, 6\n0, 6",
        rows=7,
    )
    boxes = lines_field("Wall boxes", "Name, place, and the lines that end there.", "Box A: 0, 3; lines 1-16")
    doors = lines_field(
        "Doors",
        "Name, and both ends. Doors and the ways between them are kept clear.",
        "Main door: 0, 5 to 0, 6.2",
    )
    windows = lines_field(
        "Windows",
        "As doors; “sees …” makes one a sight line, which singers face.",
        "Large window: 2, 0 to 5, 0; sees Control",
    )
    fixed = lines_field(
        "What never moves", "Name, its middle, width and depth.", "Concert grand: 2, 4; 1.6 x 2.7"
    )

    def __init__(self, data: Any, *, room: Room, row: RoomFloor | None) -> None:
        self.room = room
        super().__init__(data, initial=_initial(row))

    def clean_outline(self) -> tuple[Point, ...]:
        outline = self._read("outline", reading.corners)
        if outline and "outline" not in self.errors:
            for said in rules.outline_faults(outline):
                self.add_error("outline", said)
        return outline

    def clean_boxes(self) -> tuple[WallBox, ...]:
        boxes = self._read("boxes", reading.wall_boxes)
        return self._fit("boxes", boxes, lambda outline: rules.box_faults(boxes, outline, self.room.lines))

    def clean_doors(self) -> tuple[Opening, ...]:
        doors = self._read("doors", reading.doors)
        return self._fit("doors", doors, lambda outline: rules.opening_faults(doors, outline))

    def clean_windows(self) -> tuple[Opening, ...]:
        windows = self._read("windows", reading.windows)
        return self._fit("windows", windows, lambda outline: rules.opening_faults(windows, outline))

    def clean_fixed(self) -> tuple[Fixed, ...]:
        things = self._read("fixed", reading.fixed)
        return self._fit("fixed", things, lambda outline: rules.fixed_faults(things, outline))

    def _read(self, name: str, read: Callable[[str], reading.Read[Any]]) -> tuple[Any, ...]:
        found, wrong = read(self.cleaned_data[name])
        for said in wrong:
            self.add_error(name, said)
        return found

    def _fit(
        self, name: str, things: tuple[Any, ...], faults: Callable[[Sequence[Point]], Any]
    ) -> tuple[Any, ...]:
        """With an outline that is sound, whether they lie where they can."""
        outline = self.cleaned_data.get("outline")
        if name in self.errors or "outline" in self.errors:
            return things
        if things and not outline:
            self.add_error(name, "Give the outline of the room too, so that this has a place.")
        for said in faults(outline) if outline else ():
            self.add_error(name, said)
        return things

    def area(self) -> Area | None:
        """What is understood so far, also of a form with mistakes; None without an outline."""
        self.is_valid()
        typed = {name: str(self[name].value() or "") for name in self.fields}
        outline, _ = reading.corners(typed["outline"])
        if len(outline) < 3:
            return None
        use = typed["use"] if typed["use"] in set(Use) else Use.LIVE
        return Area(
            name=self.room.name,
            outline=outline,
            use=Use(use),
            boxes=reading.wall_boxes(typed["boxes"])[0],
            doors=reading.doors(typed["doors"])[0],
            windows=reading.windows(typed["windows"])[0],
            fixed=reading.fixed(typed["fixed"])[0],
        )


def _initial(row: RoomFloor | None) -> dict[str, str]:
    if row is None or not row.outline:
        return {"use": row.use if row else RoomFloor.Use.LIVE}
    area = row.as_area()
    return {
        "use": area.use,
        "outline": reading.said_corners(area.outline),
        "boxes": reading.said_boxes(area.boxes),
        "doors": reading.said_openings(area.doors),
        "windows": reading.said_openings(area.windows),
        "fixed": reading.said_fixed(area.fixed),
    }
