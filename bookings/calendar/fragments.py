"""The entries of a feed as text, kept by the revision of what they tell, so that a change costs one entry.

A fragment is what one session says, or one series; it is made anew when its version is another one. Names stand
in many: the epoch, which counts renamings, is part of the name under which a feed's fragments are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.core.cache import cache

from bookings.calendar.repeats import Known
from bookings.calendar.write import Written

KEPT_SECONDS = 7 * 24 * 3600
Version = tuple[object, ...]
Fragment = tuple[Version, list[Written]]


@dataclass(frozen=True, slots=True)
class Group:
    """What makes one fragment: a session, or the sessions of a series with what that is known by."""

    key: str
    ids: tuple[int, ...]
    version: Version
    known: Known | None = None


def groups_of(rows: Iterable[tuple[int, int, int | None]], known: Mapping[int, Known]) -> list[Group]:
    """From (session, version, series) rows, in order of their first session."""
    found: list[Group] = []
    members: dict[int, list[tuple[int, int]]] = {}
    for pk, version, series_id in rows:
        if series_id is None:
            found.append(Group(str(pk), (pk,), (version,)))
        else:
            members.setdefault(series_id, []).append((pk, version))
    for series_id, versions in members.items():
        of = known[series_id]
        ids = tuple(pk for pk, _ in versions)
        found.append(Group(f"series {series_id}", ids, (*versions, *of.mark), of))
    return found


def kept_or_made(
    name: str, groups: Sequence[Group], make: Callable[[Sequence[Group]], Mapping[str, list[Written]]]
) -> list[Written]:
    """Every group's entries: those kept under `name`, and what has changed since, made by `make`."""
    kept: dict[str, Fragment] = cache.get(name) or {}
    nothing: Fragment = ((), [])
    stale = [group for group in groups if kept.get(group.key, nothing)[0] != group.version]
    if stale or len(kept) != len(groups):
        made = make(stale) if stale else {}
        fragments = {
            group.key: (group.version, made[group.key]) if group.key in made else kept[group.key]
            for group in groups
        }
        cache.set(name, fragments, KEPT_SECONDS)
        kept = fragments
    return [each for group in groups for each in kept[group.key][1]]
