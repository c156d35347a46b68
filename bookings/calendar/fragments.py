"""The entries of a feed as text, kept by the revision of what they tell, so that a change costs one entry.

A fragment is what one session says, or one series; it is made anew when a version of it has changed. Names stand
in many: the epoch, which counts renamings, is part of the key under which a feed's fragments are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.core.cache import cache

from bookings.calendar.write import Written

KEPT_SECONDS = 7 * 24 * 3600
Version = tuple[tuple[int, int], ...]
Fragment = tuple[Version, list[Written]]


@dataclass(frozen=True, slots=True)
class Group:
    """What makes one fragment: a session or the sessions of a series, each with its version."""

    key: str
    version: Version

    @property
    def ids(self) -> list[int]:
        return [pk for pk, _ in self.version]


def groups_of(rows: Iterable[tuple[int, int, int | None]]) -> list[Group]:
    """From (session, version, series) rows."""
    found: dict[str, list[tuple[int, int]]] = {}
    for pk, version, series_id in rows:
        found.setdefault(f"s{series_id}" if series_id else str(pk), []).append((pk, version))
    return [Group(key, tuple(sorted(versions))) for key, versions in found.items()]


def kept_or_made(
    name: str, groups: Sequence[Group], make: Callable[[Sequence[Group]], Mapping[str, list[Written]]]
) -> list[Written]:
    """Every group's entries: those kept under `name`, and what has changed since, made by `make`."""
    kept: dict[str, Fragment] = cache.get(name) or {}
    stale = [group for group in groups if kept.get(group.key, ((), []))[0] != group.version]
    if stale or len(kept) != len(groups):
        made = make(stale) if stale else {}
        now_kept = {group.key: kept[group.key] for group in groups if group.key not in made}
        now_kept |= {group.key: (group.version, made[group.key]) for group in stale}
        cache.set(name, now_kept, KEPT_SECONDS)
        kept = now_kept
    return [each for group in groups for each in kept[group.key][1]]
