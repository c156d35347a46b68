"""What was read, made into the inputs that the planner has to fill."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import ceil

from tasks.catalogue.sources import Catalogue, Source
from tasks.patterns import patterns_in
from tasks.planning.snapshot import Need, Pickup
from tasks.reading.records import ReadSource

PLAYERS_PER_MICROPHONE = {"violin": 4, "viola": 4, "cello": 2, "double_bass": 2, "string_section": 3}
WINDS_PER_MICROPHONE = 2
VOICES_PER_MICROPHONE = 18
MOST_CHOIR_MICROPHONES = 6
PLURAL_WITHOUT_NUMBER = 2
FALLBACK_KINDS = ("moving-coil", "small condenser", "large condenser")
SIDE_SOURCES = {
    ("snare", "top"): "snare_top",
    ("snare", "bottom"): "snare_bottom",
    ("kick", "in"): "kick_in",
    ("kick", "out"): "kick_out",
}


@dataclass(frozen=True, slots=True)
class Part:
    """One input before it is numbered: side tells the halves of a pair, tag any other difference ("DI", "top")."""

    source: Source
    pickup: str
    read: ReadSource
    side: str = ""
    tag: str = ""
    index: int | None = None
    group: int | None = None
    priority: int | None = None


def needs(reading_sources: Sequence[ReadSource], catalogue: Catalogue, kit_toms: int = 2) -> tuple[Need, ...]:
    """The inputs of a list in its order, numbered from 1.

    A bare kit becomes its pieces with kit_toms toms and a room pair; what the list leaves open gets the house's usual
    number of channels. Section microphones: one for four violins or violas and one for two cellos (music-school
    leaflet), one for two winds (common practice, no single source), one for 18 singers (published guides: 15 to 20).
    """
    parts = [part for read in reading_sources for part in _parts(read, catalogue, kit_toms)]
    parts = _joined_halves(parts)
    labels = _labels(parts)
    return tuple(
        _need(number, label, part, pair)
        for number, (label, part, pair) in enumerate(zip(labels, parts, _pairs(parts), strict=True), start=1)
    )


def _parts(read: ReadSource, catalogue: Catalogue, kit_toms: int) -> list[Part]:
    source = catalogue[read.source_id]
    if read.total == 0 or read.count == 0:
        return []
    if source.id == "drum_kit":
        return [part for _ in range(read.count or 1) for part in _kit(read, catalogue, kit_toms)]
    if source.parts and (read.total is None or read.total == len(source.parts)):
        return [_part(catalogue[name], read) for name in source.parts]
    if read.channels == 2 and read.pickup == "mic+di":
        return [part for _ in range(read.count or 1) for part in _both_ways(source, read)]
    singles = []
    for number in range(_entries(read, source, kit_toms)):
        singles += _one(source, read, number, catalogue)
    return singles


def _part(source: Source, read: ReadSource) -> Part:
    return Part(source, _pickup(source, read), read)


def _pickup(source: Source, read: ReadSource) -> str:
    """The stated way, or the house's where the list leaves it open."""
    if read.pickup in ("unknown", "mic+di") or read.pickup == source.pickup:
        return "di" if source.house_pickup == "mic+di" else source.house_pickup
    return read.pickup


def _both_ways(source: Source, read: ReadSource) -> list[Part]:
    return [Part(source, "di", read, tag="DI"), Part(source, "mic", read, tag="mic")]


def _entries(read: ReadSource, source: Source, kit_toms: int) -> int:
    """How many single entries an entry stands for."""
    if read.channels is not None:
        return read.count or 1
    if read.count and read.count > 1:
        return _section(source, read.count)
    if source.id == "tom":
        return max(1, kit_toms)
    plural_only = source.bare_channels is not None and not source.pair
    return PLURAL_WITHOUT_NUMBER if plural_only else 1


def _section(source: Source, players: int) -> int:
    """Microphones for a section of players."""
    if source.family == "choir":
        return max(
            1, min(MOST_CHOIR_MICROPHONES, ceil(players / VOICES_PER_MICROPHONE)) // source.house_channels
        )
    share = PLAYERS_PER_MICROPHONE.get(source.id, WINDS_PER_MICROPHONE if source.group else 1)
    return max(1, ceil(players / share))


def _one(source: Source, read: ReadSource, number: int, catalogue: Catalogue) -> list[Part]:
    channels = read.channels or _house_channels(source, read)
    index = read.index[number] if number < len(read.index) else None
    base = replace(_part(source, read), index=index)
    if len(read.sides) == channels and set(read.sides) & {
        "top",
        "bottom",
        "in",
        "out",
        "front",
        "rear",
        "high",
        "low",
    }:
        return [_sided(base, side, catalogue) for side in read.sides]
    if channels == 2:
        return [replace(base, side=side, group=number) for side in ("L", "R")]
    if channels == 1 and read.sides:
        return [_sided(base, read.sides[0], catalogue)]
    if channels == 1:
        return [base]
    return [replace(base, tag=str(part)) for part in range(1, channels + 1)]


def _house_channels(source: Source, read: ReadSource) -> int:
    if read.count and read.count > 1 and source.group and source.family != "choir":
        return 1
    if source.group and source.family not in ("choir", "percussion"):
        return source.house_channels
    return source.house_channels if source.bare_channels is None or source.pair else 1


def _sided(part: Part, side: str, catalogue: Catalogue) -> Part:
    if side in ("L", "R"):
        return replace(part, side=side)
    other = SIDE_SOURCES.get((part.source.id, side))
    return replace(part, source=catalogue[other]) if other else replace(part, tag=side)


def _kit(read: ReadSource, catalogue: Catalogue, kit_toms: int) -> list[Part]:
    """The pieces of a kit, for the channels that the list gives or for the house's full set."""
    wanted = read.channels
    names = _full_kit(kit_toms) if wanted is None else _kit_of(wanted, kit_toms)
    parts = []
    for name, side, index in names:
        part = replace(
            _part(catalogue[name], replace(read, pickup="mic")),
            side=side,
            index=index,
            group=0 if side else None,
        )
        parts.append(replace(part, priority=3) if name == "drum_room" else part)
    return parts


def _toms(kit_toms: int) -> list[tuple[str, str, int | None]]:
    floors = 0 if kit_toms <= 0 else 1 if kit_toms <= 3 else 2
    racks = max(0, kit_toms - floors)
    rack = [("tom_rack", "", at if racks > 1 else None) for at in range(1, racks + 1)]
    return rack + [("tom_floor", "", at if floors > 1 else None) for at in range(1, floors + 1)]


def _pair_of(name: str) -> list[tuple[str, str, int | None]]:
    return [(name, "L", None), (name, "R", None)]


def _full_kit(kit_toms: int) -> list[tuple[str, str, int | None]]:
    shells: list[tuple[str, str, int | None]] = [("kick", "", None), ("snare", "", None), ("hihat", "", None)]
    return shells + _toms(kit_toms) + _pair_of("overheads") + _pair_of("drum_room")


def _kit_of(channels: int, kit_toms: int) -> list[tuple[str, str, int | None]]:
    """A kit on a given number of channels; what matters most comes first."""
    few: list[tuple[str, str, int | None]] = [
        ("kick", "", None),
        ("snare", "", None),
        ("drum_front", "", None),
    ]
    if channels <= 3:
        return few[2:] if channels == 1 else [few[0], few[2]] if channels == 2 else few
    order = [("kick", "", None), ("snare", "", None), *_pair_of("overheads")]
    order += [("hihat", "", None)] if channels == 5 or channels > 5 + kit_toms else []
    order += _toms(kit_toms)
    order += [(name, "", None) for name in ("snare_bottom", "kick_out", "ride")] + _pair_of("drum_room")
    order += [("tom", "", at) for at in range(kit_toms + 1, kit_toms + 65)]
    return order[:channels]


def _joined_halves(parts: Iterable[Part]) -> list[Part]:
    """ "Overhead L" and "Overhead R" in neighbouring entries are the two halves of one pair."""
    joined = list(parts)
    for at in range(len(joined) - 1):
        one, two = joined[at], joined[at + 1]
        same = one.source.id == two.source.id and one.index == two.index and one.pickup == two.pickup
        if same and (one.side, two.side) == ("L", "R") and one.group is None and two.group is None:
            joined[at], joined[at + 1] = replace(one, group=at), replace(two, group=at)
    return joined


def _pairs(parts: Sequence[Part]) -> list[int | None]:
    """Pair numbers, counted up from 1 down the list."""
    pairs: list[int | None] = []
    count = 0
    for at, part in enumerate(parts):
        if part.group is None or not part.side:
            pairs.append(None)
            continue
        opens = part.side == "L" or at == 0 or parts[at - 1].group is None
        count += opens
        pairs.append(count)
    return pairs


def _labels(parts: Sequence[Part]) -> list[str]:
    """ "Kick in", "Overhead L", "Violin 2": a number only where it is written or several would be alike."""
    plain = [_label(part) for part in parts]
    often = Counter(plain)
    labels: dict[str, None] = {}
    for label, part in zip(plain, parts, strict=True):
        numbered = (_label(part, number) for number in count(1))
        taken = often[label] > 1 or label in labels
        labels[next(name for name in numbered if name not in labels) if taken else label] = None
    return list(labels)


def _label(part: Part, number: int | None = None) -> str:
    words = [part.source.short]
    if part.index is not None:
        words.append(str(part.index))
    if number is not None and not (part.index is not None and number == 1):
        words.append(str(number))
    return " ".join([*words, *(word for word in (part.tag, part.side) if word)])


def _need(number: int, label: str, part: Part, pair: int | None) -> Need:
    source, pickup = part.source, Pickup(part.pickup)
    microphone = pickup is Pickup.MIC
    kinds: tuple[str, ...] = source.kinds or FALLBACK_KINDS
    if not microphone:
        kinds = source.di_kinds if pickup is Pickup.DI else ()
    return Need(
        number=number,
        label=label,
        source=source.name,
        pickup=pickup,
        kinds=kinds,
        stand=source.stand if microphone and source.stand != "none" else None,
        peak_spl_db=source.peak_spl_db if microphone else None,
        priority=3 if part.read.optional else part.priority or source.priority,
        pair=pair,
        wish=part.read.wish,
        wish_binds=part.read.wish_binds,
        patterns=patterns_in(source.pattern) if microphone else (),
    )
