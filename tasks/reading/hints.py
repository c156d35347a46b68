"""Words around a source: counts, channels, sides, stereo, microphone or direct box, wishes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tasks.reading.clauses import PLUS, Clause
from tasks.reading.context import Context
from tasks.reading.counting import MOST, ROMAN, add_count, apply_number
from tasks.reading.drafts import LEADS, SIDES, Draft
from tasks.reading.items import Item

NEAR_ONLY = ("upper", "lower", "inside", "outside", "front", "rear", "middle")
OTHERS = frozenset(
    {"rest", "resto", "reste", "others", "ubrige", "ubrigen", "altri", "autres", "overige", "demas"}
)
FROM = frozenset({"from", "del", "dal", "vom", "aus", "depuis", "out of", "desde"})
SHARING = frozenset(
    {"sharing", "share", "shares", "shared", "around", "gemeinsam", "teilen", "condivisi", "condividono"}
)
PLAIN_MICROPHONE = frozenset(
    {"mic", "mics", "mike", "microphone", "mikro", "mikros", "micro", "micros", "mikrofon"}
)
STAGE_SIDES = frozenset({"jardin", "cour", "sl", "sr", "stageleft", "stageright", "usl", "usr", "dsl", "dsr"})
COVERED = ("mic", "di", "line", "amp", "stereo", "mono", "both_sides", *SIDES)


def apply_hints(draft: Draft, clause: Clause, context: Context, own: bool) -> bool:
    """Adds what a clause says to an entry, and says if it was used. own: the clause stands apart from the source."""
    items = clause.items
    if own and (places := _summed_places(items)) and draft.channels is None:
        draft.channels = places
        return True
    used = came_from = False
    for at, item in enumerate(items):
        came_from = came_from or (item.key in FROM and item.start > draft.anchor.start)
        if apply_number(draft, items, at, clause, context, own) or _word(
            draft, items, at, clause, own, came_from
        ):
            used = True
            if item.is_(*COVERED) or item.number is not None or item.raw in ROMAN:
                draft.cover(item.start, item.end)
    draft.shared = draft.shared or any(item.key in SHARING for item in items)
    if used:
        _wish(draft, items, context)
    return used


def _word(draft: Draft, items: Sequence[Item], at: int, clause: Clause, own: bool, came_from: bool) -> bool:
    item = items[at]
    if at and items[at - 1].is_("no"):
        return False
    if item.adjective and not draft.adjective and (own or abs(item.start - draft.anchor.end) <= 2):
        draft.adjective = item.adjective
        return own
    if own and len(items) == 1 and item.key in LEADS and draft.source.id == "vocal":
        draft.lead = True
        return True
    if item.hits and not item.is_("mic", "di", "line", "stereo"):
        return False
    if item.is_("ordinal"):
        draft.index += [int(item.key)] if not draft.index and not own else []
    elif item.is_("maybe"):
        draft.optional = True
    elif item.is_("both_sides"):
        draft.both = True
        draft.sides += _two_sides(item)
    elif item.is_("stereo") or (item.is_("array") and _wants_pair(draft)):
        draft.stereo = True
        if item.is_("di", "line"):
            _pickup(draft, items, at, clause)
    elif item.is_("mono"):
        draft.mono = True
    elif item.is_("left", "right", *NEAR_ONLY) and not (item.is_("filler") and not own):
        return _side(draft, items, at, own, clause.lead)
    elif item.is_("amp") and not came_from:
        _amplifier(draft, items, clause)
    elif item.is_("mic", "di", "line"):
        _pickup(draft, items, at, clause)
        _one_for(draft, items, at)
    else:
        return False
    return True


def _summed_places(items: Sequence[Item]) -> int:
    """ "2 top 1 bottom", "one high, two low": channels at several places of one source; 0 where it isn't that."""
    pairs = list(zip(items[::2], items[1::2], strict=False))
    told = len(items) >= 4 and len(items) % 2 == 0
    if not told or not all(one.number and two.is_(*NEAR_ONLY) for one, two in pairs):
        return 0
    return sum(one.number or 0 for one, _ in pairs)


def _wants_pair(draft: Draft) -> bool:
    """Whether a name of a stereo array beside an entry says that it is a pair, not only how its half is placed."""
    return (draft.source.pair or draft.source.bare_channels is None) and not draft.sides


def _one_for(draft: Draft, items: Sequence[Item], at: int) -> None:
    """ "a spot on the piano": one microphone, where the source alone wouldn't say."""
    ahead = items[at].start < draft.anchor.start and at + 1 < len(items) and items[at + 1].is_("via")
    if ahead and not items[at].key.endswith("s") and not any(item.number is not None for item in items):
        draft.channels = draft.channels or 1


def _two_sides(item: Item) -> list[str]:
    """ "top/bottom", "in/out": the two names where they aren't left and right."""
    front = item.key.split("/")[0]
    for words, names in (
        (
            ("top", "oben", "up", "over", "dessus", "sopra", "arriba", "boven", "haut", "upper"),
            ["top", "bottom"],
        ),
        (("in", "inside", "innen", "int", "dentro"), ["in", "out"]),
        (("hi", "high", "treble"), ["high", "low"]),
        (("lo", "low", "bass"), ["low", "high"]),
        (("front",), ["front", "rear"]),
    ):
        if front in words:
            return names
    return ["L", "R"]


def _joins(clause: Clause, items: Sequence[Item]) -> bool:
    return clause.lead in PLUS or any(item.is_("and", "with") for item in items)


def _amplifier(draft: Draft, items: Sequence[Item], clause: Clause) -> None:
    draft.amp = True
    sliced = clause.lead == "/" and not draft.numbered
    draft.added = draft.added or ("di" in draft.pickups and (_joins(clause, items) or sliced))


def _pickup(draft: Draft, items: Sequence[Item], at: int, clause: Clause) -> None:
    pickup = next(kind for kind in ("di", "mic", "line") if items[at].is_(kind))
    if any(item.key in OTHERS for item in items[:at]):
        return
    other = bool(draft.pickups - {pickup} & {"mic", "di"}) or draft.amp
    sliced = clause.lead == "/" and not draft.numbered
    joined = (_joins(clause, items[: at + 1]) or sliced) and not _is_way_out(items, at)
    draft.added = draft.added or (joined and other and pickup != "line")
    draft.pickups.add(pickup)


def _is_way_out(items: Sequence[Item], at: int) -> bool:
    """ "head w/ DI out": the socket of the amplifier, not a second channel."""
    return items[at].raw.lower().endswith(" out") and any(item.is_("with") for item in items[:at])


def _side(draft: Draft, items: Sequence[Item], at: int, own: bool, lead: str) -> bool:
    item = items[at]
    name = next(SIDES[kind] for kind in SIDES if item.is_(kind))
    near = own or item.start - draft.anchor.end <= 3 or (at > 0 and items[at - 1].is_(*SIDES))
    if at + 1 < len(items) and items[at + 1].is_("array", "stereo"):
        return False
    drums = draft.source.family in ("drum kit", "percussion")
    placed = near and (drums or (own and len(items) <= 2 and lead != ","))
    if item.is_(*NEAR_ONLY) and (not placed or any(other.is_("stereo", "channels") for other in items)):
        return False
    if name in draft.sides or (draft.both and not draft.sides):
        return False
    draft.sides.append(name)
    draft.placed = draft.placed or item.key in STAGE_SIDES
    return True


def _wish(draft: Draft, items: Sequence[Item], context: Context) -> None:
    named = [item for item in items if item.is_("mic") and not item.hits]
    if named and not draft.wish and any(item.key not in PLAIN_MICROPHONE for item in named):
        draft.wish = context.text[named[0].start : named[-1].end]
    if any(item.is_("wish_must") for item in items) and draft.wish:
        draft.wish_binds = True


def apply_cell(drafts: Sequence[Draft], items: Sequence[Item], role: str, context: Context) -> None:
    """A microphone or count column of a table row, for the entries of that row."""
    for draft in drafts:
        if role == "count":
            number = next((item.number for item in items if item.number is not None), None)
            if number is not None and 1 <= number <= MOST:
                add_count(draft, number)
        elif not draft.pickups:
            _read_cell(draft, items, context)


def _read_cell(draft: Draft, items: Sequence[Item], context: Context) -> None:
    """The first of microphone, box or line that the cell names is meant; both where they are joined."""
    kinds = [kind for item in items for kind in ("di", "mic", "line") if item.is_(kind)]
    joined = any(item.raw in "+&" or item.is_("and") for item in items)
    if joined and {"di", "mic"} <= set(kinds):
        draft.pickups |= {"mic", "di"}
    elif kinds:
        draft.pickups.add(kinds[0])
    elif any(item.is_("amp") for item in items):
        draft.amp = True
    two = any(one.number == 2 and two.is_("di", "mic", "line", "times") for one, two in pairwise(items))
    if two and kinds and draft.width == 1 and not draft.sides and draft.source.bare_channels is None:
        draft.stereo = True
    if any(item.is_("stereo") for item in items) and draft.source.pickup != "mic" and not draft.sides:
        draft.stereo = True
    _wish(draft, [item for item in items if not item.symbol], context)
