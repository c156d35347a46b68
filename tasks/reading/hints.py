"""Words around a source: counts, channels, sides, stereo, microphone or direct box, wishes."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.clauses import PLUS, Clause
from tasks.reading.context import Context
from tasks.reading.drafts import SIDES, Draft
from tasks.reading.items import Item

MOST = 64
ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6}
BEFORE_COUNT = ("(", ":", "-", "cell", "")
SECTIONED = ("strings bowed", "brass", "woodwind", "choir", "double bass")
NEAR_ONLY = ("upper", "lower", "inside", "outside", "front", "rear", "middle")


def apply_hints(draft: Draft, clause: Clause, context: Context, own: bool) -> bool:
    """Adds what a clause says to an entry. own: the clause stands apart from the source's words. Says if it was used."""
    items = [item for item in clause.items if not item.symbol]
    used = False
    came_from = False
    plus = clause.lead in PLUS or any(item.is_("and", "with") for item in items)
    for at, item in enumerate(items):
        came_from = came_from or (item.is_("via") and item.key in FROM and item.start > draft.anchor.start)
        if _number(draft, items, at, clause, context, own) or _word(
            draft, items, at, own, plus, came_from, clause
        ):
            used = True
            draft.cover(item.start, item.end) if _covers(draft, item, own) else None
    if used and own:
        _wish(draft, items, context)
    return used


FROM = frozenset({"from", "del", "dal", "vom", "aus", "depuis", "out", "out of"})


def _covers(draft: Draft, item: Item, own: bool) -> bool:
    return (
        item.is_(
            "mic",
            "di",
            "line",
            "amp",
            "stereo",
            "left",
            "right",
            "both_sides",
            "upper",
            "lower",
            "inside",
            "outside",
            "mono",
            "figure",
        )
        or item.number is not None
    )


def _word(
    draft: Draft, items: Sequence[Item], at: int, own: bool, plus: bool, came_from: bool, clause: Clause
) -> bool:
    item = items[at]
    if item.is_("maybe"):
        draft.optional = True
        return True
    if item.is_("both_sides"):
        draft.both = True
        return True
    if item.is_("stereo") and not item.is_("manner"):
        draft.stereo = True
        return True
    if item.is_("mono"):
        draft.mono = True
        return True
    if item.is_("left", "right") and not item.is_("filler"):
        return _side(draft, items, at, own)
    if item.is_(*NEAR_ONLY):
        return _side(draft, items, at, own)
    if item.is_("amp") and not came_from:
        draft.amp = True
        draft.added = (
            draft.added
            or (plus and "di" in draft.pickups)
            or ("di" in draft.pickups and clause.lead == "/" and not draft.numbered)
        )
        return True
    for pickup in ("mic", "di", "line"):
        if item.is_(pickup):
            other = draft.pickups - {pickup}
            joined = plus or (clause.lead == "/" and not draft.numbered)
            draft.added = draft.added or (
                joined and (bool(other & {"mic", "di"}) or draft.amp) and pickup != "line"
            )
            draft.pickups.add(pickup)
            return True
    return False


def _side(draft: Draft, items: Sequence[Item], at: int, own: bool) -> bool:
    item = items[at]
    name = next(SIDES[kind] for kind in SIDES if item.is_(kind))
    near = own or item.start - draft.anchor.end <= 3 or (at > 0 and items[at - 1].is_(*SIDES))
    if item.is_(*NEAR_ONLY) and not (
        (near and draft.source.family == "drum kit") or (near and own and len(items) <= 2)
    ):
        return False
    if name in draft.sides:
        return False
    draft.sides.append(name)
    return True


def _number(
    draft: Draft, items: Sequence[Item], at: int, clause: Clause, context: Context, own: bool
) -> bool:
    item = items[at]
    number = ROMAN.get(item.raw) if item.number is None else item.number
    if item.number is None and (item.start < draft.anchor.end or own):
        return False
    if number is None or not 1 <= number <= MOST:
        return False
    before = items[at - 1] if at else None
    after = items[at + 1] if at + 1 < len(items) else None
    if (
        after is not None
        and after.is_("inch", "thing", "topic_monitor")
        and not after.is_("channels", "mic", "di", "times", "header")
    ):
        return False
    if after is not None and after.is_("piece") and not after.is_("times"):
        return False
    if (
        before is not None
        and before.is_("header")
        and before.key in ("number", "nr", "no", "ch", "channel", "input")
    ):
        return False
    unit = _unit(items, at)
    if unit is not None and (unit.is_("channels", "mic") or unit.is_("di", "line")):
        return _channels(draft, number, unit, item)
    if (before is not None and before.is_("times")) or (after is not None and after.is_("times")):
        return _count(draft, number)
    if unit is not None and unit.is_("amp", "stereo"):
        return _count(draft, number)
    if item.start >= draft.anchor.end and not own:
        return _after_name(draft, items, at, number, context)
    if own:
        return _apart(draft, items, at, number, clause, context)
    return _count(draft, number)


def _unit(items: Sequence[Item], at: int) -> Item | None:
    """The word that a number counts: the next one that isn't manner or "x"."""
    for item in items[at + 1 :]:
        if item.is_("mic", "di", "line", "channels", "amp", "stereo"):
            return item
        if not item.is_("times", "manner", "filler", "people"):
            return None
    return None


def _channels(draft: Draft, number: int, unit: Item, item: Item) -> bool:
    if draft.channels is not None and not (
        draft.channels and unit.is_("di", "mic") and draft.pickups and not unit.is_(*draft.pickups)
    ):
        return False
    if draft.channels is not None:
        draft.channels += number
        return True
    if item.start < draft.anchor.start and not draft.source.group:
        return _count(draft, number)
    draft.channels = number
    return True


def _count(draft: Draft, number: int) -> bool:
    if draft.count is not None:
        return False
    draft.count = number
    return True


def _after_name(draft: Draft, items: Sequence[Item], at: int, number: int, context: Context) -> bool:
    """A number behind the name: "Tom 2" is a name, "Violins 8" a count, "Toms 1-3" a span."""
    last = _span_end(items, at, number, context)
    if last is not None:
        draft.index += list(range(number, last + 1))
        return True
    if draft.index and at and items[at - 1].number == draft.index[-1] and number == draft.index[-1]:
        return False
    counted = draft.plural and not draft.numbered and draft.source.family in SECTIONED and draft.count is None
    if counted and (number > 2 or draft.source.family not in ("strings bowed",)):
        return _count(draft, number)
    if (
        draft.plural
        and not draft.numbered
        and not draft.index
        and number > 1
        and draft.source.family in ("drum kit",)
    ):
        return _count(draft, number)
    if number in draft.index:
        return False
    draft.index.append(number)
    return True


def _span_end(items: Sequence[Item], at: int, number: int, context: Context) -> int | None:
    if at + 1 >= len(items) or items[at + 1].number is None:
        return None
    link = context.text[items[at].end : items[at + 1].start].strip()
    last = items[at + 1].number
    return last if link in ("-", "–", "—", "..", "…") and number < last <= number + MOST else None


def _apart(
    draft: Draft, items: Sequence[Item], at: int, number: int, clause: Clause, context: Context
) -> bool:
    before = items[at - 1] if at else None
    if before is not None and before.number is not None and draft.index and draft.index[-1] >= number:
        return False
    if clause.lead in ("+", "&", "and", "/", ",") and draft.index and len(items) <= 2:
        draft.index.append(number)
        return True
    last = _span_end(items, at, number, context)
    if last is not None:
        if clause.lead == "(" or clause.lead == ":":
            draft.index += list(range(number, last + 1))
            return True
        return False
    rest = [item for other, item in enumerate(items) if other != at]
    plain = all(
        item.is_(
            "times", "people", "manner", "filler", "piece", "maybe", "stereo", "total", "both_sides", "via"
        )
        for item in rest
    )
    if clause.lead in BEFORE_COUNT and plain and not draft.index:
        return _count(draft, number)
    return False


def _wish(draft: Draft, items: Sequence[Item], context: Context) -> None:
    named = [item for item in items if item.is_("mic", "di") and not item.is_("line")]
    if named and not draft.wish:
        draft.wish = context.text[named[0].start : named[-1].end]
    if any(item.is_("wish_must") for item in items) and named:
        draft.wish_binds = True


def apply_cell(drafts: Sequence[Draft], items: Sequence[Item], role: str, context: Context) -> None:
    """A microphone or count column of a table row, for the entries of that row."""
    words = [item for item in items if not item.symbol]
    for draft in drafts:
        if role == "count":
            number = next((item.number for item in words if item.number is not None), None)
            if number and 1 <= number <= MOST:
                _count(draft, number)
            continue
        if draft.pickups:
            continue
        kinds = [kind for item in words for kind in ("di", "mic", "line") if item.is_(kind)]
        if "di" in kinds and "mic" in kinds and len(items) > len(words):
            draft.pickups |= {"mic", "di"}
        elif kinds:
            draft.pickups.add(kinds[0])
        elif any(item.is_("amp") for item in words):
            draft.amp = True
        _wish(draft, words, context)
