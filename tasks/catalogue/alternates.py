"""Another way to pick up a source: for a player who moves or is shy, or a second microphone to blend. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tasks.catalogue.errors import CatalogueError

WHEN = {
    "moves": "If the player moves about",
    "shy": "If the player is shy of microphones",
    "second": "A second one to blend",
}
KEYS = frozenset(
    {"when", "families", "sources", "kinds", "pattern", "stand", "position", "distance_cm", "evidence"}
)


@dataclass(frozen=True, slots=True)
class Alternate:
    """when is one of WHEN; kinds in order of choice; distance_cm from the source, nearest and farthest."""

    when: str
    kinds: tuple[str, ...]
    pattern: str
    stand: str
    position: str
    distance_cm: tuple[float, float]
    evidence: str

    @property
    def in_words(self) -> str:
        """“If the player moves about: clip condenser or large condenser, clipped to the bell …, 5 to 60 cm”."""
        near, far = self.distance_cm
        return f"{WHEN[self.when]}: {' or '.join(self.kinds)}, {self.position}; {near:g} to {far:g} cm"


def read_alternates(
    entries: Iterable[Mapping[str, Any]],
    families: Mapping[str, str],
    kinds: Collection[str],
    stands: Collection[str],
) -> Mapping[str, tuple[Alternate, ...]]:
    """The alternates of each source, by its id. families: of every source, by id. What names a source comes before
    what names its family. Raises CatalogueError, naming what to correct.
    """
    named: dict[tuple[str, str], Alternate] = {}
    usual: dict[tuple[str, str], Alternate] = {}
    for entry in entries:
        alternate = _alternate(entry, kinds, stands)
        for place, known, into in (
            ("sources", set(families), named),
            ("families", set(families.values()), usual),
        ):
            for name in entry.get(place, ()):
                if name not in known or (name, alternate.when) in into:
                    raise CatalogueError(
                        f"alternate of {name}: not known, or given twice for “{alternate.when}”; correct it."
                    )
                into[name, alternate.when] = alternate
    found = {
        source: tuple(
            one
            for when in WHEN
            if (one := named.get((source, when)) or usual.get((family, when))) is not None
        )
        for source, family in families.items()
    }
    return {source: alternates for source, alternates in found.items() if alternates}


def _alternate(entry: Mapping[str, Any], kinds: Collection[str], stands: Collection[str]) -> Alternate:
    where = f"alternate of {', '.join(map(str, [*entry.get('families', ()), *entry.get('sources', ())]))}"
    missing = sorted(KEYS - {"families", "sources"} - set(entry)) or sorted(set(entry) - KEYS)
    if missing:
        raise CatalogueError(f"{where}: {missing[0]} is missing or unknown; give {', '.join(sorted(KEYS))}.")
    for name, given, known in (
        ("when", (entry["when"],), WHEN),
        ("kinds", entry["kinds"], kinds),
        ("stand", (entry["stand"],), stands),
    ):
        wrong = [value for value in given if value not in known]
        if wrong:
            raise CatalogueError(f"{where}: {name} has {wrong[0]!r}; use one of {', '.join(known)}.")
    near, far = entry["distance_cm"]
    if not 0 <= near <= far:
        raise CatalogueError(f"{where}: distance_cm is {near}, {far}; give nearest, then farthest.")
    return Alternate(
        entry["when"],
        tuple(entry["kinds"]),
        entry["pattern"],
        entry["stand"],
        entry["position"],
        (near, far),
        entry["evidence"],
    )
