"""One row to drafts of entries and asides."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.clauses import PLUS, Clause, clauses_of
from tasks.reading.context import Context
from tasks.reading.drafts import Aside, Draft
from tasks.reading.hints import apply_hints
from tasks.reading.layout import Row
from tasks.reading.pairing import COVERS, Anchor, anchors_of, merge
from tasks.reading.people import label_length, mark_people

QUIET = frozenset(
    {"filler", "manner", "via", "with", "and", "or", "header", "people", "figure", "parts", "maybe"}
)


class RowReader:
    """Reads the clauses of one row from left to right."""

    def __init__(self, row: Row, number: int, context: Context, prose: bool, label_end: int = 0) -> None:
        self.row = row
        self.number = number
        self.context = context
        self.prose = prose
        self.label_end = label_end
        self.drafts: list[Draft] = []
        self.asides: list[Aside] = []
        self.person = False
        self.negated = False
        self.parent: Draft | None = None
        self.ahead: Clause | None = None
        self.spoke_of_people = False

    def read(self) -> None:
        items = [item for item in self.row.items if item.start >= self.label_end]
        items, names = mark_people(items)
        self.person = bool(names)
        self.asides += [Aside(start, end, "name") for start, end in names]
        clauses = clauses_of(items)
        clauses = self._without_label(clauses)
        for at, clause in enumerate(clauses):
            self._clause(clause, clauses[at + 1 :])
        self._finish()

    def _without_label(self, clauses: list[Clause]) -> list[Clause]:
        """A name or an ensemble in front of a colon, dash or bracket with sources behind it."""
        length = label_length(clauses, self.context)
        if length:
            label = clauses[length - 1]
            ensemble = any(item.is_("topic_input", "people", "total", "channels") for item in label.items)
            self.person = self.person or not ensemble
            self.asides.append(Aside(clauses[0].start, label.end, "who plays" if not ensemble else "heading"))
            clauses = clauses[length:]
            clauses[0].lead, clauses[0].depth = "", 0
            for clause in clauses[1:]:
                clause.depth = 0 if clause.lead != "(" and ensemble and clause.depth == 1 else clause.depth
        return clauses

    def _clause(self, clause: Clause, following: Sequence[Clause]) -> None:
        if clause.lead == "(" and self.drafts:
            self.parent = self.drafts[-1]
        if clause.depth == 0:
            self.parent = None
        anchors = anchors_of(clause, self.context, self.parent or (self.drafts[-1] if self.drafts else None))
        if self._is_negated(clause, anchors):
            return
        if self._is_thing(clause, anchors):
            self.asides.append(Aside(clause.start, clause.end, "not a source"))
            return
        if anchors and self._opens_entries(clause, anchors):
            self._open(clause, anchors)
        elif self.drafts:
            self._add_to_last(clause)
        elif anchors:
            self._open(clause, anchors)
        else:
            self._without_source(clause, following)

    def _is_negated(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        first = anchors[0].start if anchors else clause.end + 1
        no = next((at for at, item in enumerate(clause.items) if item.is_("no") and item.start < first), None)
        if (
            no is not None
            and no + 1 < len(clause.items)
            and clause.items[no + 1].number is not None
            and not anchors
        ):
            no = None
        if no is None:
            self.negated = self.negated and clause.lead in ("or", "/", "and") and bool(anchors)
        else:
            self.negated = bool(anchors) or not self.drafts
        if self.negated and (anchors or no is not None):
            self.asides.append(Aside(clause.start, clause.end, "said not to be there"))
            return True
        if no is not None:
            self.asides.append(Aside(clause.start, clause.end, "note"))
            return True
        return False

    def _is_thing(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        things = [item for item in clause.items if item.is_("thing") and not item.hits]
        if not things or not anchors:
            return False
        for item in things:
            after = [
                a for a in anchors if a.end <= item.start and not self._between(clause, a.end, item.start)
            ]
            if after:
                return True
        heard = any(item.is_("mic", "di", "line") for item in clause.items)
        gear = all(item.is_("manner") for item in things)
        return not heard and not gear and not self.row.numbered

    def _between(self, clause: Clause, start: int, end: int) -> bool:
        return any(start <= item.start < end and not item.is_("filler") for item in clause.items)

    def _opens_entries(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        """Whether the sources of a clause are entries of their own, not remarks on the one before."""
        if not self.drafts:
            return True
        last = self.drafts[-1]
        if self.parent is not None:
            return self._opens_in_brackets(clause, anchors)
        if self.row.numbered:
            return self._opens_in_numbered(clause, anchors, last)
        if clause.lead in (":", "-") and last.source.id == "tom" and last.bare:
            self.drafts.pop()
            self.asides.append(Aside(last.start, last.end, "who plays"))
            self.person = True
            return True
        if clause.lead in (":", "-") and self._covers(last, anchors):
            last.parent = True
            return True
        if clause.lead in ("/", "or") and self._is_alternative(clause, anchors, last):
            return False
        return True

    def _opens_in_brackets(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        parent = self.parent
        assert parent is not None
        if clause.lead in PLUS and parent is self.drafts[-1] and clause.items[0].start > parent.end:
            return not self.row.headed or parent.source.family != anchors[0].source.family
        if (
            self._covers(parent, anchors)
            and (parent.source.group or parent.plural)
            and not parent.index
            and not parent.sides
        ):
            if (
                clause.lead in ("/", "or")
                and self.drafts[-1] is not parent
                and self._is_alternative(clause, anchors, self.drafts[-1])
            ):
                return False
            parent.parent = True
            return True
        return False

    def _opens_in_numbered(self, clause: Clause, anchors: Sequence[Anchor], last: Draft) -> bool:
        if clause.lead in ("+", "&", "and"):
            return not (self.row.headed and last.source.family == anchors[0].source.family)
        if clause.lead == "/":
            return not self.row.headed and not self._is_alternative(clause, anchors, last)
        if clause.lead in (":", "-") and last.source.group and self._covers(last, anchors):
            last.parent = True
            return True
        if clause.lead == ",":
            if last.parent or (last.source.family == "drum kit" and anchors[0].source.family == "drum kit"):
                return not self.row.headed
            return not self.row.headed and not any(item.is_("person") for item in clause.items)
        return last.parent and clause.lead not in ("cell", "-")

    def _covers(self, parent: Draft, anchors: Sequence[Anchor]) -> bool:
        return anchors[0].source.family in COVERS.get(parent.source.family, (parent.source.family,))

    def _is_alternative(self, clause: Clause, anchors: Sequence[Anchor], last: Draft) -> bool:
        """ "piano or guitar", "flute/piccolo", "keys/synth": one player, one entry."""
        if clause.lead == "or":
            return True
        one, two = last.source, anchors[0].source
        if last.count or any(item.number for item in clause.items if item.start < anchors[0].start):
            return False
        if {one.family, two.family} <= {"keys", "piano", "organ"} or {one.id, two.id} == {
            "drum_kit",
            "percussion",
        }:
            return True
        if one.family == two.family == "drum kit":
            return one.id == two.id
        shared_mic = any(item.key in ("same", "shared", "share") for item in self.row.items)
        return (
            one.family == two.family
            or ({one.family, two.family} == {"woodwind", "brass"} and False)
            or shared_mic
        )

    def _open(self, clause: Clause, anchors: Sequence[Anchor]) -> None:
        drafts = merge(clause, anchors, self)
        for draft in drafts:
            draft.opens = clause.lead
            draft.person = self.person
            self.drafts.append(draft)

    def _add_to_last(self, clause: Clause) -> None:
        """A clause without entries of its own says more about the entry before."""
        target = self.parent or self.drafts[-1]
        used = apply_hints(target, clause, self.context, own=True)
        if not used:
            self._aside(clause, "note")

    def _without_source(self, clause: Clause, following: Sequence[Clause]) -> None:
        words = [item for item in clause.items if not item.symbol]
        if (
            all(
                item.kinds & QUIET
                or item.is_("mic", "di", "line", "stereo", "mono", "amp", "times")
                or item.number is not None
                for item in words
            )
            and following
        ):
            self.ahead = clause
            return
        self._aside(clause, "remark")

    def _aside(self, clause: Clause, why: str) -> None:
        words = [item for item in clause.items if not item.symbol]
        strange = [item for item in words if item.unknown]
        talk = any(item.is_("remark", "greeting", "thing", "inch") for item in words)
        listed = self.row.numbered or self.row.bullet or len(words) <= 3
        outside = clause.depth == 0 and clause.lead not in ("cell",)
        in_row = self.row.numbered and bool(self.drafts)
        ask = bool(strange) and not talk and len(words) <= 5 and outside and listed and not in_row
        ask = ask and not (self.drafts and clause.lead in ("-", ":", "."))
        self.asides.append(Aside(clause.start, clause.end, why, ask=ask))

    def _finish(self) -> None:
        if self.ahead is not None and not self.drafts:
            self._aside(self.ahead, "remark")
