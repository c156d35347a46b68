"""Reads the files of a house; every [[table]] entry knows where it stands, so that errors can name it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from pathlib import Path
from typing import Any, TypeVar

T = TypeVar("T")

TABLES = {
    "site": "name",
    "room": "name",
    "pair": "rooms",
    "person": "username",
    "leave": "person",
    "microphone": "name",
    "preamp": "name",
    "di": "name",
    "model": "name",
    "units": "model",
    "stock": "name",
    "fault": "unit",
    "client": "name",
    "job": "title",
    "session": "title",
    "rental": "what",
    "service": "what",
    "floor": "room",
    "moved": "source",
    "setting": "unit",
}
NAMES = {
    str: "text",
    int: "a whole number",
    list: "a list like [“one”, “two”]",
    dict: "{ … } with keys inside",
    bool: "true or false",
}


class DemoError(ValueError):
    """A house that can't be loaded; the message names file and entry and says what to do."""


@dataclass(frozen=True)
class Entry:
    """One [[table]] entry. `number` counts from 1 within its file and table."""

    file: str
    table: str
    number: int
    values: Mapping[str, Any]

    def wrong(self, what: str) -> DemoError:
        name = self.values.get(TABLES[self.table], "no name")
        return DemoError(f"{self.file}: [[{self.table}]] number {self.number} ({name}): {what}")

    def only(self, *allowed: str) -> None:
        """Refuse keys that nobody reads: a slip of the pen must not vanish."""
        for key in self.values:
            if key not in allowed:
                raise self.wrong(f"nothing is called {key!r} here; use {', '.join(allowed)}.")

    def get(self, key: str, kind: type[T], default: T | None = None) -> T:
        """The value of a key; without a default it has to be there."""
        value = self.values.get(key, default)
        if value is None:
            raise self.wrong(f"{key} is missing; add it.")
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is int):
            raise self.wrong(f"{key} is {value!r}; give {NAMES.get(kind, kind.__name__)}.")
        return value

    def texts(self, key: str) -> list[str]:
        """A list of texts, empty when the key isn't there."""
        values = self.get(key, list, [])
        for value in values:
            if not isinstance(value, str):
                raise self.wrong(f"{key} holds {value!r}; give texts in quotes.")
        return values

    def one_of(self, key: str, allowed: list[str], default: str | None = None) -> str:
        value = self.get(key, str, default)
        if value and value not in allowed:
            raise self.wrong(f"{key} is {value!r}; use one of {', '.join(allowed)}.")
        return value

    def find(self, known: Mapping[str, T], name: str, what: str) -> T:
        """What another entry made under this name."""
        if name not in known:
            raise self.wrong(f"no {what} is called {name!r}; correct it or add one.")
        return known[name]

    def moment(self, key: str, today: date, tz: tzinfo) -> datetime | None:
        """The instant of { day = -3, at = "16:40" }: days from today, time on the site's clock."""
        if key not in self.values:
            return None
        inner = Entry(self.file, self.table, self.number, {**self.values, **self.get(key, dict)})
        day = today + timedelta(days=inner.get("day", int))
        return datetime.combine(day, inner.clock("at"), tz)

    def clock(self, key: str) -> time:
        return self.read_clock(self.get(key, str), key)

    def clocks(self, key: str) -> tuple[time, time] | None:
        """Two times, like the hours of a day; None when the key isn't there."""
        if key not in self.values:
            return None
        both = self.texts(key)
        if len(both) != 2:
            raise self.wrong(f"{key} holds two times, like [“09:20”, “17:40”].")
        return self.read_clock(both[0], key), self.read_clock(both[1], key)

    def read_clock(self, text: str, key: str) -> time:
        try:
            return datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007
        except ValueError:
            raise self.wrong(f"{key} is {text!r}; write a time like “09:30”.") from None


def read_entries(folder: Path) -> dict[str, list[Entry]]:
    """All entries of the folder's .toml files by table, in the order of files and lines."""
    tables: dict[str, list[Entry]] = {table: [] for table in TABLES}
    files = sorted(folder.glob("*.toml"))
    if not files:
        raise DemoError(f"No .toml file stands in {folder}. Name a folder that holds a house.")
    for path in files:
        for table, entries in _tables(path).items():
            if table not in TABLES or not isinstance(entries, list):
                raise DemoError(f"{path.name}: {table!r} is no table here; use [[{']], [['.join(TABLES)}]].")
            tables[table] += [
                Entry(path.name, table, number, values) for number, values in enumerate(entries, start=1)
            ]
    return tables


def _tables(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DemoError(f"{path.name}: not readable as TOML ({error}); correct that line.") from None
