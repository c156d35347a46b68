"""Which inserts a source usually has, in order, with settings to begin with: [[insert]] and [[chain]] entries."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tasks.catalogue.errors import CatalogueError
from tasks.planning.chain_records import AUTOMATIC, EQUALISER, FIXED, KINDS, VARIABLE, InsertWish, Way

OF_INSERT = {
    *("id", "name", "kind", "threshold", "ratio", "valves", "attack", "release", "reduction_db"),
    *("lift_db", "lift_hz", "says", "evidence"),
}
OF_CHAIN = {"sources", "inserts", "evidence"}
OF_PREAMP = {"id", "says", "evidence"}
TRANSFORMER, IMPEDANCE = "transformer", "impedance"


@dataclass(frozen=True, slots=True)
class ChainPractice:
    """inserts by id, the chain of a source by its id, and what to know of a preamp by what it has."""

    inserts: Mapping[str, InsertWish] = field(default_factory=dict)
    of_source: Mapping[str, tuple[InsertWish, ...]] = field(default_factory=dict)
    of_preamp: Mapping[str, str] = field(default_factory=dict)


def read_chains(
    entries: Mapping[str, Iterable[Mapping[str, Any]]], sources: Collection[str]
) -> ChainPractice:
    """entries: “insert”, “chain” and “preamp”, each as in the files. Raises CatalogueError, naming what to do."""
    inserts: dict[str, InsertWish] = {}
    for entry in entries.get("insert", ()):
        where = f"insert {entry.get('id', 'no id')}"
        _check(entry, OF_INSERT, ("id", "name", "kind", "evidence"), where)
        if entry["id"] in inserts:
            raise CatalogueError(f"{where}: this id is used twice; rename one of the two.")
        inserts[str(entry["id"])] = _insert(entry, where)
    chains: dict[str, tuple[InsertWish, ...]] = {}
    for entry in entries.get("chain", ()):
        where = f"chain of {', '.join(map(str, entry.get('sources', ()))) or 'no source'}"
        _check(entry, OF_CHAIN, ("sources", "inserts", "evidence"), where)
        wishes = tuple(inserts[_known(name, inserts, "insert", where)] for name in entry["inserts"])
        for source in entry["sources"]:
            if source in chains:
                raise CatalogueError(f"{where}: {source} has a chain already; keep one of the two.")
            chains[_known(source, sources, "source", where)] = wishes
    return ChainPractice(inserts, chains, dict(_preamps(entries.get("preamp", ()))))


def _preamps(entries: Iterable[Mapping[str, Any]]) -> Iterable[tuple[str, str]]:
    for entry in entries:
        where = f"preamp {entry.get('id', 'no id')}"
        _check(entry, OF_PREAMP, ("id", "says", "evidence"), where)
        yield _known(entry["id"], (TRANSFORMER, IMPEDANCE), "preamp", where), str(entry["says"])


def _check(entry: Mapping[str, Any], allowed: set[str], needed: tuple[str, ...], where: str) -> None:
    for key in entry:
        if key not in allowed:
            raise CatalogueError(f"{where}: unknown key {key!r}; use one of {', '.join(sorted(allowed))}.")
    for key in needed:
        if not entry.get(key):
            raise CatalogueError(f"{where}: {key} is missing; add it.")


def _known(name: object, known: Collection[str], what: str, where: str) -> str:
    if name not in known:
        raise CatalogueError(f"{where}: no {what} has the id {name!r}; correct it or add one.")
    return str(name)


def _insert(entry: Mapping[str, Any], where: str) -> InsertWish:
    kind = entry["kind"]
    if kind not in KINDS:
        raise CatalogueError(f"{where}: kind is {kind!r}; use one of {', '.join(KINDS)}.")
    threshold = entry.get("threshold", "")
    if threshold not in ("", VARIABLE, FIXED) or (threshold and kind == EQUALISER):
        raise CatalogueError(f"{where}: threshold is {threshold!r}; dynamics have {VARIABLE} or {FIXED}.")
    lift, hertz = _span(entry, "lift_db", where), _number(entry, "lift_hz", where)
    if bool(lift) != bool(hertz) or (lift and kind != EQUALISER):
        raise CatalogueError(f"{where}: give an equaliser both lift_db and lift_hz, or none of them.")
    ratio = _number(entry, "ratio", where)
    if ratio is not None and ratio < 1:
        raise CatalogueError(f"{where}: ratio is {ratio:g}; give a number from 1, to one.")
    return InsertWish(
        name=str(entry["name"]),
        kind=kind,
        threshold=threshold,
        ratio=ratio,
        valves=bool(entry.get("valves", False)),
        attack=_way(entry, "attack", where),
        release=_way(entry, "release", where),
        reduction_db=_span(entry, "reduction_db", where),
        lift_db=lift,
        lift_hz=hertz or 0,
        says=str(entry.get("says", "")),
        evidence=str(entry["evidence"]),
    )


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and value >= 0


def _number(entry: Mapping[str, Any], key: str, where: str) -> float | None:
    value = entry.get(key)
    if value is None or _is_number(value):
        return value
    raise CatalogueError(f"{where}: {key} is {value!r}; give a number that is not below 0.")


def _span(entry: Mapping[str, Any], key: str, where: str) -> tuple[float, float] | None:
    value = entry.get(key)
    if value is None:
        return None
    if (
        not isinstance(value, list)
        or len(value) != 2
        or not all(map(_is_number, value))
        or value[0] > value[1]
    ):
        raise CatalogueError(f"{where}: {key} is {value!r}; give [least, most] in decibels.")
    return (value[0], value[1])


def _way(entry: Mapping[str, Any], key: str, where: str) -> Way:
    value: Way = entry.get(key)
    if value is None or value == AUTOMATIC or (_is_number(value) and float(value) <= 1):
        return value
    raise CatalogueError(f'{where}: {key} is {value!r}; give "{AUTOMATIC}", or 0 (slowest) to 1 (fastest).')
