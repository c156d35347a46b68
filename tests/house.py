"""A small house for tests, built on demand: each function makes one thing with defaults that fit together.

Instants are aware; `at` reads a wall time in Berlin, like at("2027-03-02 16:40").
"""

from __future__ import annotations

from datetime import datetime
from itertools import count
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.contenttypes.models import ContentType

from studio.models import (
    Channel,
    Claim,
    DirectBoxSpec,
    GearModel,
    GearUnit,
    MicrophoneSpec,
    Person,
    Phantom,
    PreampSpec,
    Resource,
    Role,
    Room,
    Site,
    Stock,
)
from studio.spans import Span

BERLIN = ZoneInfo("Europe/Berlin")
MAKER = "Alder & Sons"
_number = count(1)


def _letters() -> str:
    """A name of its own without a figure in it: what a test searches for must not be found in a model's name."""
    number, text = next(_number), ""
    while number:
        number, digit = divmod(number, 9)
        text += "qjxvkwzyg"[digit]
    return f"Z{text}"


def at(wall: str, tz: ZoneInfo = BERLIN) -> datetime:
    """The instant of a wall time, “2027-03-02 16:40”."""
    return datetime.fromisoformat(wall).replace(tzinfo=tz)


def span(start: str, end: str | None, tz: ZoneInfo = BERLIN) -> Span:
    return Span(at(start, tz), at(end, tz) if end else None)


def make_site(name: str = "Mill Lane", zone: str = "Europe/Berlin") -> Site:
    return Site.objects.get_or_create(name=name, defaults={"zone": zone})[0]


def make_room(name: str = "Weaving Hall", site: Site | None = None, **fields: Any) -> Room:
    """A room with 16 lines and 24 recorder inputs; `parts` may list the rooms it is made of."""
    parts = fields.pop("parts", [])
    values = {"lines": 16, "recorder_inputs": 24, **fields}
    room = Room.objects.create(site=site or make_site(), name=name, **values)
    room.parts.set(parts)
    return room


def make_person(*roles: Role | str, name: str = "", **fields: Any) -> Person:
    """Somebody with these roles; sign-in name, mail address and, if none is given, name are made up."""
    number = next(_number)
    who = name or f"Person {number}"
    fields = {"email": f"person-{number}@example.org", "username": f"person-{number}", **fields}
    return Person.objects.create_person(name=who, roles=[str(role) for role in roles], **fields)


def make_model(
    kind: str = GearModel.Kind.COMPRESSOR, name: str = "", channels: int = 0, **fields: Any
) -> GearModel:
    fields = {"maker": MAKER, **fields}
    return GearModel.objects.create(
        kind=kind, name=name or f"Model {_letters()}", channels=channels, **fields
    )


def make_unit(tag: str = "", model: GearModel | None = None, **fields: Any) -> GearUnit:
    """A unit with its channels. Without a model: a compressor of a make of its own."""
    fields.setdefault("site", fields["home_room"].site if fields.get("home_room") else make_site())
    return GearUnit.objects.create(
        gear_model=model or make_model(), tag=tag or f"U-{next(_number)}", **fields
    )


def make_preamp(tag: str = "", channels: int = 8, model: GearModel | None = None, **fields: Any) -> GearUnit:
    """A preamp rack. Of the model: switching, bank_size, drain_seconds, gain_max_db, phantom_supply_ma."""
    names = {"switching", "bank_size", "drain_seconds", "gain_min_db", "gain_max_db", "phantom_supply_ma"}
    spec = {name: fields.pop(name) for name in names & set(fields)}
    if model is None:
        model = make_model(GearModel.Kind.PREAMP, f"Rack {_letters()}", channels)
        PreampSpec.objects.create(gear_model=model, **{"switching": PreampSpec.Switching.PER_CHANNEL, **spec})
    return make_unit(tag or f"Rack {next(_number)}", model, **fields)


def make_mic(
    tag: str = "",
    transducer: str = MicrophoneSpec.Transducer.MOVING_COIL,
    phantom: str = Phantom.INDIFFERENT,
    model: GearModel | None = None,
    **fields: Any,
) -> GearUnit:
    """A microphone. Of the model: patterns, own_supply, current_ma, max_spl_db, pad_db, name."""
    names = {"patterns", "own_supply", "current_ma", "sensitivity_mv_pa", "max_spl_db", "pad_db", "weight_g"}
    spec = {name: fields.pop(name) for name in names & set(fields)}
    if model is None:
        model = make_model(GearModel.Kind.MICROPHONE, fields.pop("name", "") or f"Mic {_letters()}")
        MicrophoneSpec.objects.create(gear_model=model, transducer=transducer, phantom=phantom, **spec)
    return make_unit(tag or f"M-{next(_number)}", model, **fields)


def make_di(
    tag: str = "", active: bool = False, channels: int = 1, model: GearModel | None = None, **fields: Any
) -> GearUnit:
    """A DI box: an active one needs phantom, a passive one doesn't mind it."""
    if model is None:
        model = make_model(GearModel.Kind.DI, f"Box {_letters()}", channels)
        DirectBoxSpec.objects.create(
            gear_model=model, active=active, phantom=Phantom.NEEDS if active else Phantom.INDIFFERENT
        )
    return make_unit(tag or f"D-{next(_number)}", model, **fields)


def make_stock(name: str = "short boom", amount: int = 10, site: Site | None = None, **fields: Any) -> Stock:
    kind = fields.pop("kind", Stock.Kind.STAND)
    return Stock.objects.create(site=site or make_site(), name=name, count=amount, kind=kind, **fields)


def channel(unit: GearUnit, number: int) -> Channel:
    return Channel.objects.select_related("unit").get(unit=unit, number=number)


def take_gear(
    thing: GearUnit | Channel, when: Span, reason: str = "Quartet and harmonium", origin: Any = None
) -> Claim:
    """A firm claim on a unit or channel, as a session makes it. Origin: any saved object, else the site."""
    origin = origin or make_site()
    return Claim.objects.create(
        resource=Resource.objects.get(pk=thing.resource_id),
        starts=when.start,
        ends=when.end,
        purpose=Claim.Purpose.GEAR,
        reason=reason,
        origin_type=ContentType.objects.get_for_model(origin),
        origin_id=origin.pk,
    )


def make_many_units(amount: int, model: GearModel, **fields: Any) -> None:
    """Many plain units at once, tagged N-0001 and on; for counting queries."""
    site = fields.pop("site", None) or make_site()
    tags = [f"N-{number:04}" for number in range(1, amount + 1)]
    resources = Resource.objects.bulk_create(Resource(kind=Resource.Kind.UNIT, name=tag) for tag in tags)
    GearUnit.objects.bulk_create(
        GearUnit(resource=resource, tag=tag, gear_model=model, site=site, **fields)
        for resource, tag in zip(resources, tags, strict=True)
    )
