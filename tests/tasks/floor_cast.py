"""A hall with a booth and a control room, and lists, for the tests of floors and headphones. All of it invented."""

from __future__ import annotations

from studio.floors.records import Area, Fixed, Floor, Opening, Use, WallBox
from tasks.catalogue import load_catalogue
from tasks.catalogue.needs import needs
from tasks.floor.stations import FloorInput, Station, stations
from tasks.reading import read

HALL = Area(
    "Hall",
    ((0, 0), (12, 0), (12, 9), (0, 9)),
    boxes=(WallBox("Box A", (0, 5), 1, 16), WallBox("Box B", (12, 4), 17, 32)),
    doors=(Opening("Main door", (5, 9), (6.5, 9)), Opening("Booth door", (0, 1), (0, 2))),
    windows=(Opening("Large window", (4, 0), (8, 0), "Control"),),
    fixed=(Fixed("Concert grand", (10, 6.5), 1.6, 2.7),),
)
BOOTH = Area(
    "Booth",
    ((-3.2, 0.2), (-0.3, 0.2), (-0.3, 3.4), (-3.2, 3.4)),
    Use.BOOTH,
    boxes=(WallBox("Booth box", (-3.2, 1.5), 33, 40),),
    doors=(Opening("Booth door", (-0.3, 1), (-0.3, 2)),),
)
CONTROL = Area("Control", ((4, -4.3), (8, -4.3), (8, -0.3), (4, -0.3)), Use.CONTROL)
FLOOR = Floor((HALL, BOOTH, CONTROL))
BAND = """drums
bass DI and amp
electric guitar amp
acoustic guitar
grand piano stereo
lead vocal
2 backing vocals
click"""
QUARTET = "2 violins, viola, cello, main pair"


def stations_of(text: str) -> tuple[Station, ...]:
    catalogue = load_catalogue()
    found = needs(read(text, catalogue).sources, catalogue)
    inputs = [FloorInput(n.number, n.label, n.source, n.pickup.value, n.stand or "") for n in found]
    return stations(inputs, catalogue)
