"""Reads the catalogue's TOML files and refuses what doesn't fit, naming file and entry."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from tasks.catalogue.alternates import read_alternates
from tasks.catalogue.arrays import read_arrays
from tasks.catalogue.chains import read_chains
from tasks.catalogue.errors import CatalogueError
from tasks.catalogue.sources import (
    DI_KINDS,
    FAMILIES,
    LANGUAGES,
    MICROPHONE_KINDS,
    PICKUPS,
    STANDS,
    Alias,
    Catalogue,
    Source,
)

DATA = Path(__file__).parent / "data"
TABLES = ("insert", "chain", "preamp", "array", "use", "alternate")
ALLOWED = {
    "id", "name", "label", "family", "aliases", "pickup", "house_pickup", "bare_channels", "house_channels", "kinds",
    "di_kinds", "position", "distance_cm", "pattern", "stand", "peak_spl_db", "pad_db", "high_pass_hz", "priority",
    "cautions", "evidence", "parts", "group", "pair",
}  # fmt: skip


@cache
def load_catalogue(folder: Path = DATA) -> Catalogue:
    """The catalogue of a folder of TOML files, checked as a whole."""
    files = sorted(folder.glob("*.toml"))
    if not files:
        raise CatalogueError(
            f"{folder.name}: no .toml file stands here; add at least one with [[source]] entries."
        )
    tables = {path: _table(path) for path in files}
    sources = [source for path, data in tables.items() for source in _sources(path, data)]
    _check_ids(sources)
    by_id = {source.id: source for source in sources}
    entries = {key: [e for data in tables.values() for e in data.get(key, ())] for key in TABLES}
    families = {source.id: source.family for source in sources}
    return Catalogue(
        tuple(sources),
        by_id,
        read_chains(entries, by_id),
        read_arrays(entries["array"], entries["use"], by_id),
        read_alternates(entries["alternate"], families, MICROPHONE_KINDS, STANDS),
    )


def _table(path: Path) -> Mapping[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CatalogueError(f"{path.name}: not readable as TOML ({error}); correct that line.") from error


def _sources(path: Path, data: Mapping[str, Any]) -> Iterable[Source]:
    defaults = data.get("defaults", {})
    for number, entry in enumerate(data.get("source", []), start=1):
        where = f"{path.name}: entry {number} ({entry.get('id', 'no id')})"
        yield _source({**defaults, **entry}, where)


def _source(entry: Mapping[str, Any], where: str) -> Source:
    unknown = sorted(set(entry) - ALLOWED)
    if unknown:
        raise CatalogueError(f"{where}: unknown key {unknown[0]!r}; use one of {', '.join(sorted(ALLOWED))}.")
    for key in ("id", "name", "family", "aliases", "evidence"):
        if not entry.get(key):
            raise CatalogueError(f"{where}: {key} is missing; add it.")
    pickup = _one_of(entry, "pickup", PICKUPS, "unknown", where)
    bare = entry.get("bare_channels", 1)
    return Source(
        id=str(entry["id"]),
        name=str(entry["name"]),
        label=str(entry.get("label", "")),
        family=_one_of(entry, "family", FAMILIES, "", where),
        aliases=tuple(_aliases(entry, where)),
        pickup=pickup,
        house_pickup=_one_of(entry, "house_pickup", PICKUPS, "mic" if pickup == "unknown" else pickup, where),
        bare_channels=None if bare == "not stated" else _whole(bare, "bare_channels", where),
        house_channels=_whole(entry.get("house_channels", 1), "house_channels", where),
        kinds=_all_of(entry, "kinds", MICROPHONE_KINDS, where),
        di_kinds=_all_of(entry, "di_kinds", DI_KINDS, where) or DI_KINDS,
        position=str(entry.get("position", "")),
        distance_cm=_distance(entry, where),
        pattern=str(entry.get("pattern", "")),
        stand=_one_of(entry, "stand", STANDS, "none", where),
        peak_spl_db=_number(entry, "peak_spl_db", where),
        pad_db=_number(entry, "pad_db", where) or 0,
        high_pass_hz=_number(entry, "high_pass_hz", where) or 0,
        priority=_priority(entry, where),
        cautions=tuple(map(str, entry.get("cautions", ()))),
        evidence=str(entry["evidence"]),
        parts=tuple(map(str, entry.get("parts", ()))),
        group=bool(entry.get("group", False)),
        pair=bool(entry.get("pair", False)),
    )


def _one_of(entry: Mapping[str, Any], key: str, allowed: tuple[str, ...], default: str, where: str) -> str:
    value = str(entry.get(key, default))
    if value not in allowed:
        raise CatalogueError(f"{where}: {key} is {value!r}; use one of {', '.join(allowed)}.")
    return value


def _all_of(entry: Mapping[str, Any], key: str, allowed: tuple[str, ...], where: str) -> tuple[str, ...]:
    values = tuple(map(str, entry.get(key, ())))
    for value in values:
        if value not in allowed:
            raise CatalogueError(f"{where}: {key} has {value!r}; use one of {', '.join(allowed)}.")
    return values


def _whole(value: object, key: str, where: str) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 99:
        return value
    raise CatalogueError(f'{where}: {key} is {value!r}; give a whole number from 1, or "not stated".')


def _number(entry: Mapping[str, Any], key: str, where: str) -> float | None:
    value = entry.get(key)
    if value is None or (isinstance(value, int | float) and value >= 0):
        return value
    raise CatalogueError(f"{where}: {key} is {value!r}; give a number that is not below 0.")


def _priority(entry: Mapping[str, Any], where: str) -> int:
    value = _whole(entry.get("priority", 2), "priority", where)
    if value > 3:
        raise CatalogueError(
            f"{where}: priority is {value}; give 1 (lead part), 2 (ordinary) or 3 (nice to have)."
        )
    return value


def _distance(entry: Mapping[str, Any], where: str) -> tuple[float, float] | None:
    value = entry.get("distance_cm")
    if value is None:
        return None
    if len(value) != 2 or not 0 <= value[0] <= value[1]:
        raise CatalogueError(f"{where}: distance_cm is {value!r}; give [nearest, farthest] in centimetres.")
    return (value[0], value[1])


def _aliases(entry: Mapping[str, Any], where: str) -> Iterable[Alias]:
    """Each string is "singular" or "singular; plural"; plurals in -s need not be given."""
    yield Alias(str(entry["name"]), "en")
    for language, words in entry["aliases"].items():
        if language not in LANGUAGES:
            raise CatalogueError(f"{where}: aliases in {language!r}; use one of {', '.join(LANGUAGES)}.")
        for text in words:
            singular, _, plural = (part.strip() for part in str(text).partition(";"))
            if singular:
                yield Alias(singular, language)
            if plural and plural != singular:
                yield Alias(plural, language, plural=True)


def _check_ids(sources: list[Source]) -> None:
    seen: dict[str, Source] = {}
    for source in sources:
        if source.id in seen:
            raise CatalogueError(f"{source.id}: this id is used twice; rename one of the two.")
        seen[source.id] = source
    for source in sources:
        for part in source.parts:
            if part not in seen:
                raise CatalogueError(
                    f"{source.id}: parts names {part!r}, which no entry has as id; correct it."
                )
