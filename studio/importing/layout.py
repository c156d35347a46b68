"""What a list's columns are, and which row says so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """index from 0. certain: the word is known, or a person confirmed it."""

    index: int
    heading: str
    field: str
    certain: bool = True

    @property
    def named(self) -> bool:
        """Not where the file has no heading for it: such a column is called by its number."""
        return self.heading != f"column {self.index + 1}"


@dataclass(frozen=True, slots=True)
class Layout:
    """row: number of the heading row, 0 if there is none. sort: an inventory or a log of faults."""

    row: int
    sort: str
    columns: tuple[Column, ...]
    width: int

    def index(self, field: str) -> int | None:
        return next((column.index for column in self.columns if column.field == field), None)

    @property
    def fields(self) -> set[str]:
        return {column.field for column in self.columns}
