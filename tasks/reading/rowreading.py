"""One row to drafts of entries and asides."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.catalogue import Source
from tasks.reading.anchors import VOICES, Anchor, anchors_of
from tasks.reading.clauses import PLUS, Clause, clauses_of
from tasks.reading.context import Context
from tasks.reading.drafts import Aside, Draft
from tasks.reading.hints import apply_hints
from tasks.reading.layout import Row
from tasks.reading.pairing import UTILITY_IDS, merge
from tasks.reading.people import ME, is_ensemble, label_length, mark_people
from tasks.reading.relations import (
    counts_for_choir,
    covers,
    is_alternative,
    is_chair,
    is_counted,
    may_head,
    plus_is_first,
    touch,
)
from tasks.reading.unnamed import is_way_of_above, pair_alone, speaks_of_all

QUIET = frozenset(
    {"filler", "manner", "via", "with", "and", "or", "header", "people", "figure", "parts", "maybe", "times"}
)
HEARD = ("mic", "di", "line", "stereo", "mono", "amp", "channels", "left", "right", "both_sides")
MOST_ASKED_WORDS = 5


class RowReader:
    """Reads the clauses of one row from left to right."""

    def __init__(
        self, row: Row, context: Context, prose: bool, begin: int = 0, above: Source | None = None
    ) -> None:
        self.row = row
        self.context = context
        self.prose = prose
        self.begin = begin
        self.above = above
        self.under = False
        self.drafts: list[Draft] = []
        self.asides: list[Aside] = []
        self.person = False
        self.negated = False
        self.parent: Draft | None = None
        self.labelled = False
        self.ahead: Clause | None = None
        self.ahead_for_all = False

    def read(self) -> None:
        items = [item for item in self.row.items if item.start >= self.begin]
        if not self.row.numbered and speaks_of_all(items):
            self.asides.append(Aside(items[0].start, items[-1].end, "remark"))
            return
        items, names = mark_people(items)
        self.person = bool(names)
        self.asides += [Aside(start, end, "who plays") for start, end in names]
        clauses = self._without_label(clauses_of(items))
        if self.above is not None and is_way_of_above(clauses, self.above, self.prose, self.context):
            self.under = True
            self._open(clauses[0], [Anchor(clauses[0].items[0], self.above)])
            apply_hints(self.drafts[0], clauses[0], self.context, own=True)
            clauses = clauses[1:]
        for at, clause in enumerate(clauses):
            self._clause(clause, last=at + 1 == len(clauses))
        self._who_sings(clauses)
        if self.ahead is not None and not self.drafts:
            self._set_aside(self.ahead, "remark")
        if self.row.numbered and not self.drafts and not any(aside.ask for aside in self.asides):
            self._ask_for_row()

    def _ask_for_row(self) -> None:
        """A numbered row is a channel: where nothing in it was understood it is asked about, unless it is empty."""
        words = [item for item in self.row.words if item.start >= self.begin]
        denied = any(aside.why == "said not to be there" for aside in self.asides)
        empty = any(word.is_("spare", "total") for word in words) or not any(
            word.raw.isalpha() for word in words
        )
        if words and not empty and not denied:
            self.asides = [Aside(words[0].start, words[-1].end, "", ask=True)]

    def _without_label(self, clauses: list[Clause]) -> list[Clause]:
        """Drops a name or an ensemble in front of a colon, dash or bracket with sources behind it."""
        if not label_length(clauses, self.context):
            return clauses
        label, rest = clauses[0], clauses[1:]
        ensemble = is_ensemble(label)
        self.person = self.person or not ensemble
        self.asides.append(Aside(label.start, label.end, "heading" if ensemble else "who plays"))
        inside = rest[0].lead == "("
        for clause in rest:
            clause.depth = max(0, clause.depth - 1) if inside else clause.depth
            inside = inside and clause.depth >= 0
        rest[0].lead = "," if ensemble and len(rest) > 1 and rest[1].lead == "," else ""
        return rest

    def _clause(self, clause: Clause, last: bool) -> None:
        if clause.lead == "(" and self.drafts and not self.labelled:
            self.parent = self.drafts[-1]
        if clause.depth == 0:
            self.parent = None
        near = self.parent or (self.drafts[-1] if self.drafts else None)
        anchors = anchors_of(clause, self.context, near)
        if self.parent is not None and any(anchor.item.means("solo_voice") for anchor in anchors):
            self._make_soloists()
        if self._is_negated(clause, anchors):
            return
        if self._is_thing(clause, anchors):
            self.asides.append(Aside(clause.start, clause.end, "not a source"))
        elif anchors and not self._is_only_how(clause, anchors) and self._opens_entries(clause, anchors):
            self._open(clause, anchors)
        elif self.drafts and not (self.labelled and clause.depth):
            self._count_singers(anchors)
            self._add_to_last(clause)
        elif anchors:
            self._open(clause, anchors)
        elif (last or self.prose) and not self.ahead and (pair := pair_alone(clause, self.context)):
            self._open(clause, [pair])
            self.drafts[-1].stereo = True
        else:
            self._without_source(clause, last)

    def _who_sings(self, clauses: Sequence[Clause]) -> None:
        """ "Vocals: centre, keys, gtr": the instruments say who sings at each microphone."""
        voices = self.drafts[:1]
        others = self.drafts[1:]
        headed = len(clauses) > 1 and clauses[1].lead == ":" and not (self.row.numbered or self.prose)
        if not headed or not voices or voices[0].source.family not in VOICES or not voices[0].plural:
            return
        if others and all(draft.bare for draft in others):
            for draft in others:
                if draft.source.family not in VOICES:
                    draft.source, draft.plural = self.context.catalogue["backing_vocal"], False

    def _count_singers(self, anchors: Sequence[Anchor]) -> None:
        """ "BVs (bass, keys and drums)": who sings, each at a microphone of their own."""
        voices = self.parent is not None and self.parent.source.family in (*VOICES, "choir")
        if self.parent is not None and voices and not (self.row.numbered or self.parent.index):
            self.parent.singers += sum(1 for anchor in anchors if anchor.source.family not in VOICES)

    def _make_soloists(self) -> None:
        """ "Soprano, alto, tenor, bass (soloists)": the voices of the row are soloists, not sections."""
        for draft in self.drafts:
            if draft.source.id == "choir_section":
                draft.source = self.context.catalogue["solo_voice"]

    def _is_only_how(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        """ "pastor - headset", "vox, wireless": a kind of microphone for the entry before."""
        how = all(anchor.item.is_("mic", "di", "line") for anchor in anchors)
        counted = any(item.number is not None for item in clause.items)
        if counted and self.drafts and clause.lead == ":":
            return how and self.drafts[-1].source.family in VOICES
        return bool(self.drafts) and how and not counted and clause.lead not in ("and", "+", "&")

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
            why = "said not to be there"
        else:
            self.negated = bool(anchors)
            why = "said not to be there" if anchors else "note"
        if self.negated or no is not None:
            self.asides.append(Aside(clause.start, clause.end, why))
            return True
        return False

    def _is_thing(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        """ "guitar stand", "stool for the drummer": a thing that goes with a source, not the source."""
        things = [item for item in clause.items if item.is_("thing") and not item.hits]
        if not things or not anchors:
            return False
        if any(touch(clause, anchor.end, thing.start) for thing in things for anchor in anchors):
            return True
        if self.row.numbered or any(item.is_("mic", "di", "line") for item in clause.items):
            return False
        return things[0].start < anchors[0].start and not things[0].is_("manner")

    def _opens_entries(self, clause: Clause, anchors: Sequence[Anchor]) -> bool:
        """Whether the sources of a clause are entries of their own, not remarks on the one before."""
        if not self.drafts or (self.labelled and clause.lead in ("(", ":", "-")):
            return True
        last = self.drafts[-1]
        if self.parent is not None:
            return self._opens_in_brackets(clause, anchors, self.parent)
        if counts_for_choir(clause, anchors, last):
            return False
        if self.row.numbered:
            return self._opens_in_numbered(clause, anchors, last)
        if clause.lead in (":", "-") and last.source.id == "tom" and last.bare:
            self.drafts.pop()
            self.asides.append(Aside(last.start, last.end, "who plays"))
            self.person = True
            return True
        if clause.lead in (":", "-") and covers(last, anchors) and may_head(last, clause):
            last.parent = not is_chair(last)
            return last.parent
        if last.source.family == "woodwind" and is_chair(last) and last.opens in ("", ":"):
            return not covers(last, anchors)
        return not (clause.lead in ("/", "or") and is_alternative(clause, anchors, last, self.row))

    def _opens_in_brackets(self, clause: Clause, anchors: Sequence[Anchor], parent: Draft) -> bool:
        first = anchors[0].source
        if counts_for_choir(Clause(clause.items, "("), anchors, parent):
            return False
        if first.id in UTILITY_IDS and parent.source.family != first.family and not self.row.headed:
            return parent.source.family not in ("electronics/playback", "talkback/utility")
        if (
            clause.lead in PLUS
            and parent is self.drafts[-1]
            and clause.start > parent.end
            and plus_is_first(self.context.text, clause)
        ):
            return not self.row.headed or parent.source.family != first.family
        if self.prose and any(item.key in ME for item in clause.items):
            return True
        if not covers(parent, anchors) or parent.index or parent.sides:
            return False
        counted = is_counted(clause, anchors)
        if not (parent.source.group or (parent.plural and (counted or parent.parent))):
            return False
        last = self.drafts[-1]
        if (
            clause.lead in ("/", "or")
            and last is not parent
            and is_alternative(clause, anchors, last, self.row)
        ):
            return False
        parent.parent = True
        return True

    def _opens_in_numbered(self, clause: Clause, anchors: Sequence[Anchor], last: Draft) -> bool:
        same = last.source.family == anchors[0].source.family
        if clause.lead in ("+", "&", "and"):
            return not (self.row.headed and same)
        if clause.lead == "/":
            return not self.row.headed and not is_alternative(clause, anchors, last, self.row)
        if clause.lead in (":", "-", "(") and last.source.group and covers(last, anchors) and not last.index:
            last.parent = True
            return True
        if clause.lead == ",":
            return not self.row.headed and not any(item.is_("person") for item in clause.items)
        return last.parent and clause.lead not in ("cell", "-")

    def _open(self, clause: Clause, anchors: Sequence[Anchor]) -> None:
        for draft in merge(clause, anchors, self):
            draft.opens = clause.lead
            draft.person = self.person or (clause.lead == "/" and bool(self.drafts))
            self.drafts.append(draft)
        if clause.depth == 0:
            self.labelled = False

    def use_ahead(self, draft: Draft, clause: Clause) -> None:
        """Words in front of the first source: "DI for guitar" is its own, "2x DI (bass + keys)" is for each."""
        ahead = self.ahead
        if ahead is None:
            return
        for_each = self.ahead_for_all or clause.lead in ("(", ":")
        if for_each:
            self.ahead_for_all = True
            for item in ahead.items:
                draft.pickups |= {kind for kind in ("mic", "di", "line") if item.is_(kind)}
            return
        if apply_hints(draft, ahead, self.context, own=False) and clause.lead != ",":
            draft.start = min(draft.start, ahead.start)
        self.ahead = None

    def _add_to_last(self, clause: Clause) -> None:
        """A clause without entries of its own says more about the entry before."""
        last = self.drafts[-1]
        if self._is_another(clause):
            self.asides.append(Aside(clause.start, clause.end, "", ask=True))
            return
        of_the_last = self.parent is not None and self.parent.parent and clause.lead in ("+", "&", "and", "/")
        target = last if of_the_last else self.parent or last
        used = apply_hints(target, clause, self.context, own=True)
        if used and clause.lead in ("and", "+", "&", ",") and clause.items[0].is_("both"):
            for draft in self.drafts[:-1]:
                apply_hints(draft, clause, self.context, own=True)
        if not used:
            self.labelled = clause.depth == 0 and (is_ensemble(clause) or clause.lead == ",")
            self._set_aside(clause, "note")

    def _is_another(self, clause: Clause) -> bool:
        """ ", one zorblax in stereo": a word nobody knows, counted in a piece of its own, is another entry."""
        begins = [item for item in clause.items if not item.is_("filler", "definite")][:2]
        counted = len(begins) == 2 and begins[0].number is not None and begins[1].unknown
        listed = clause.depth == 0 and clause.lead in (",", "and", "+", "&") and not self.row.cells
        return counted and listed and len(clause.items) <= MOST_ASKED_WORDS

    def _without_source(self, clause: Clause, last: bool) -> None:
        quiet = all(
            item.kinds & QUIET or item.is_(*HEARD) or item.number is not None or item.adjective
            for item in clause.items
        )
        if quiet and not last:
            self.ahead = clause
            return
        self._set_aside(clause, "remark")

    def _set_aside(self, clause: Clause, why: str) -> None:
        """A clause that is no entry: asked about where it stands like one, else a remark."""
        words = clause.items
        heard = any(item.is_("mic", "di") for item in words) and not self.drafts and not self.prose
        thing = any(item.is_("thing") and not item.is_("manner") for item in words) and not heard
        talk = thing or any(item.is_("remark", "greeting", "inch") for item in words)
        strange = any(item.unknown for item in words) or self._is_only_a_microphone(clause)
        listed = self.row.numbered or self.row.bullet or len(words) <= 3
        apart = clause.depth == 0 and clause.lead not in ("cell",) and not (self.row.numbered and self.drafts)
        after = bool(self.drafts) and clause.lead in ("-", ":", ".")
        ask = strange and listed and apart and not talk and not after and len(words) <= MOST_ASKED_WORDS
        ask = ask and not is_ensemble(clause)
        self.asides.append(Aside(clause.start, clause.end, why, ask=ask))

    def _is_only_a_microphone(self, clause: Clause) -> bool:
        """ "2 mics", "DI": a channel is wanted, but for what?"""
        return not self.drafts and any(item.is_("mic", "di") for item in clause.items) and not self.prose
