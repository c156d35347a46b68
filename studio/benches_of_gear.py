"""Fifty thousand units, and what people type to find some of them, for the bench of the look-up."""

from __future__ import annotations

import random
from collections.abc import Iterator

from django.db import connection

from studio.models import Channel, GearModel, GearUnit, MicrophoneSpec, Resource, Room, Site

UNITS, MODELS, ROOMS = 50_000, 600, 40
BEGINNINGS, MIDDLES, ENDS = "bcdfghjklmnprstvwz", "aeiou", ["", "l", "n", "r", "s"]
PREFIXES = {
    GearModel.Kind.MICROPHONE: "MC",
    GearModel.Kind.PREAMP: "PR",
    GearModel.Kind.DI: "DI",
    GearModel.Kind.COMPRESSOR: "CP",
    GearModel.Kind.HEADPHONES: "HP",
}
CHANNELS = {GearModel.Kind.PREAMP: 8}
KINDS = [
    "ribbon",
    "di",
    "mic",
    "preamp",
    "cans",
    "large condenser",
    "comp",
    "ribon",
    "microphnoe",
    "boundary",
]


def house_of_gear() -> None:
    """Fills the database in use: as many rooms, models and units as a very large hire house has."""
    dice = random.Random(20)  # noqa: S311
    site = Site.objects.create(name="Depot", zone="Europe/Berlin")
    rooms = [Room.objects.create(site=site, name=f"{invented(dice)} room") for _ in range(ROOMS)]
    kinds = [list(PREFIXES)[number % len(PREFIXES)] for number in range(MODELS)]
    models = GearModel.objects.bulk_create(
        GearModel(
            kind=kind, maker=invented(dice), name=f"{invented(dice)} {n}", channels=CHANNELS.get(kind, 0)
        )
        for n, kind in enumerate(kinds)
    )
    transducers = MicrophoneSpec.Transducer.values
    MicrophoneSpec.objects.bulk_create(
        MicrophoneSpec(gear_model=model, transducer=dice.choice(transducers))
        for model in models
        if model.kind == GearModel.Kind.MICROPHONE
    )
    add_units(dice, site, rooms, models)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def add_units(dice: random.Random, site: Site, rooms: list[Room], models: list[GearModel]) -> None:
    chosen = [dice.choice(models) for _ in range(UNITS)]
    tags = [f"{PREFIXES[GearModel.Kind(model.kind)]}-{number:05}" for number, model in enumerate(chosen)]
    resources = Resource.objects.bulk_create(Resource(kind=Resource.Kind.UNIT, name=tag) for tag in tags)
    units = GearUnit.objects.bulk_create(
        GearUnit(
            resource=resource,
            tag=resource.name,
            serial=str(dice.randrange(10**6, 10**7)),
            gear_model=model,
            site=site,
            home_room=dice.choice(rooms),
            storage=f"shelf {dice.randrange(1, 9)}",
        )
        for resource, model in zip(resources, chosen, strict=True)
    )
    numbered = [(unit, n) for unit in units for n in range(1, unit.gear_model.channels + 1)]
    made = Resource.objects.bulk_create(
        Resource(kind=Resource.Kind.CHANNEL, name=f"{unit.tag} channel {n}") for unit, n in numbered
    )
    Channel.objects.bulk_create(
        Channel(unit=unit, number=n, resource=resource)
        for (unit, n), resource in zip(numbered, made, strict=True)
    )


def typed() -> Iterator[str]:
    """What people type, without end: names, serials, words; whole, half and misspelt; some find nothing."""
    dice = random.Random(7)  # noqa: S311
    units = list(GearUnit.objects.select_related("gear_model", "home_room").order_by("pk")[:: UNITS // 500])
    while True:
        unit = dice.choice(units)
        word = unit.gear_model.name.split()[0]
        place = unit.home_room.name.split()[0] if unit.home_room else ""
        yield from [
            unit.tag,
            unit.tag.replace("-", " ").lower(),
            unit.serial,
            unit.serial[:4],
            dice.choice(KINDS),
            word,
            word[:3],
            misspelt(dice, word),
            f"{dice.choice(KINDS)} {place}",
            f"{unit.gear_model.maker} {word}",
            f"{unit.tag} 3",
            "zebra crossing",
        ]


def invented(dice: random.Random) -> str:
    parts = [dice.choice(part) for _ in range(3) for part in (BEGINNINGS, MIDDLES, ENDS)]
    return "".join(parts).capitalize()


def misspelt(dice: random.Random, word: str) -> str:
    """Two neighbours exchanged."""
    at = dice.randrange(len(word) - 1)
    return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
