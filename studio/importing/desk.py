"""What is read from one row, and the desk on which it is read: its cells by field, what is kept, what is asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from studio.importing.columns import Conventions
from studio.importing.kinds import Kind
from studio.importing.layout import Column
from studio.importing.remarks import Remark, names_one_of
from studio.importing.table import Finding, Row

LONGEST = {"tag": 40, "serial": 60, "maker": 80, "model": 80, "place": 120, "owner": 80}


@dataclass(frozen=True, slots=True)
class Said:
    """A fault that the row tells of. of: which of the row's pieces, from 0; empty where that is asked too."""

    key: str
    remark: Remark
    of: tuple[int, ...]
    on_bench: bool = False


@dataclass(frozen=True, slots=True)
class Thing:
    """pieces None: how many isn't known, so nothing is made of the row until it is.

    stock: kind of counted stock, empty for single units. value: for one piece. bought: ISO 8601, as exact as known.
    owner: empty for the house. phantom: must_not where the row bans it. state: empty, retired, away or missing.
    figures: field of a figure to what was read, in the unit of the field's name.
    """

    row: int
    line: int
    pieces: int | None
    model: str
    kind: Kind
    maker: str = ""
    stock: str = ""
    about: bool = False
    tags: tuple[str, ...] = ()
    serials: tuple[str, ...] = ()
    place: str = ""
    site: str = ""
    owner: str = ""
    bought: str = ""
    value: Decimal | None = None
    currency: str = ""
    phantom: str = ""
    state: str = ""
    remarks: tuple[str, ...] = ()
    faults: tuple[Said, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    patterns: str = ""

    def remark(self, index: int) -> str:
        """What is said of one of the pieces: a text that names others of them by tag or serial is theirs."""
        if self.pieces == 1:
            return "; ".join(self.remarks)
        names = [*self.tags, *self.serials]
        own = {each[index].casefold() for each in (self.tags, self.serials) if index < len(each)}
        theirs = [{name.casefold() for name in names_one_of(text, names)} for text in self.remarks]
        return "; ".join(
            text for text, named in zip(self.remarks, theirs, strict=True) if not named or named & own
        )

    def label(self, index: int) -> str:
        """How one of the pieces is called in a question."""
        own = [names[index] for names in (self.tags, self.serials) if index < len(names)]
        name = self.model or self.maker or self.kind.name or "it"
        return (
            f"{name} {own[-1]}"
            if own
            else f"{name} ({index + 1} of {self.pieces})"
            if self.pieces != 1
            else name
        )


@dataclass(slots=True)
class Desk:
    """One row while it is read: its cells by field, what nobody's field holds, what has to be asked."""

    row: Row
    columns: tuple[Column, ...]
    section: str
    ways: Conventions
    answers: Mapping[str, str]
    kept: list[str] = field(default_factory=list)
    questions: list[Finding] = field(default_factory=list)
    errors: list[Finding] = field(default_factory=list)
    places: dict[str, int] = field(init=False)

    def __post_init__(self) -> None:
        self.places = {column.field: column.index for column in reversed(self.columns)}

    def cell(self, name: str) -> str:
        return self.row.cell(self.column(name))

    def cells(self, name: str) -> list[str]:
        """Of every column that is read for this."""
        return [self.row.cell(column.index) for column in self.columns if column.field == name]

    def column(self, name: str) -> int | None:
        """Where the field stands: the first of its columns."""
        return self.places.get(name)

    def heading(self, name: str) -> str:
        return next((column.heading for column in self.columns if column.field == name), name)

    def ask(self, what: str, key: str = "", options: tuple[tuple[str, str], ...] = ()) -> str:
        """The answer if there is one, else the question is put and the answer is empty."""
        key = f"row {self.row.number}: {key}" if key else ""
        if answer := self.answers.get(key, ""):
            return answer
        self.questions.append(Finding(what, row=self.row.number, key=key, options=options))
        return ""

    def keep(self, name: str, text: str) -> None:
        """Text that its field can't hold stays with the thing, under the column's own heading."""
        self.kept.append(f"{self.heading(name)}: {text}")


def short(desk: Desk, name: str, text: str) -> str:
    """Cut to what its field holds; the whole text is kept as a remark."""
    text = " ".join(text.split())
    if len(text) <= LONGEST[name]:
        return text
    desk.keep(name, text)
    desk.ask(
        f"“{text[:40]}…” is longer than the {LONGEST[name]} letters that fit. The rest is kept as a remark."
    )
    return text[: LONGEST[name]].rstrip()
