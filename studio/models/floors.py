"""The floor of a room as drawn: outline, wall boxes, doors, windows, what never moves. Metres."""

from __future__ import annotations

from django.db import models

from studio.floors import records
from studio.models.places import Room


class RoomFloor(models.Model):
    """Rooms of one site that belong together are drawn from one corner, so that they lie beside each other.

    outline: corners as [x, y]; boxes, doors, windows and fixed: rows of what studio.floors.records holds.
    """

    class Use(models.TextChoices):
        LIVE = "live", "players: a live room"
        BOOTH = "booth", "players apart from the others: a booth"
        CONTROL = "control", "listening: a control room"

    room = models.OneToOneField(Room, on_delete=models.CASCADE, related_name="floor")
    use = models.CharField(max_length=8, choices=Use, default=Use.LIVE)
    outline = models.JSONField(default=list)
    boxes = models.JSONField(default=list, blank=True)
    doors = models.JSONField(default=list, blank=True)
    windows = models.JSONField(default=list, blank=True)
    fixed = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["room", "pk"]

    def __str__(self) -> str:
        return f"Floor of {self.room}"

    def as_area(self) -> records.Area:
        return records.Area(
            name=self.room.name,
            outline=tuple((x, y) for x, y in self.outline),
            use=records.Use(self.use),
            boxes=tuple(records.WallBox(n, (x, y), first, last) for n, (x, y), first, last in self.boxes),
            doors=tuple(_opening(row) for row in self.doors),
            windows=tuple(_opening(row) for row in self.windows),
            fixed=tuple(records.Fixed(n, (x, y), width, depth) for n, (x, y), width, depth in self.fixed),
        )

    def take(self, area: records.Area) -> None:
        """Keep what an area says, all but its name."""
        self.use, self.outline = area.use.value, [list(at) for at in area.outline]
        self.boxes = [[box.name, list(box.at), box.first, box.last] for box in area.boxes]
        self.doors = [[each.name, list(each.start), list(each.end), ""] for each in area.doors]
        self.windows = [[each.name, list(each.start), list(each.end), each.sees] for each in area.windows]
        self.fixed = [[each.name, list(each.at), each.width, each.depth] for each in area.fixed]


def _opening(row: tuple[str, tuple[float, float], tuple[float, float], str]) -> records.Opening:
    name, start, end, sees = row
    return records.Opening(name, (start[0], start[1]), (end[0], end[1]), sees)
