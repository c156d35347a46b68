"""Words around a source: counts, channels, sides, stereo, microphone or direct box, wishes."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.clauses import PLUS, Clause
from tasks.reading.context import Context
from tasks.reading.drafts import SIDES, Draft
from tasks.reading.items import Item

MOST = 64
ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6}
COUNTING_LEADS = ("(", ":", "-", "cell", "")
SECTIONED = ("strings bowed", "brass", "woodwind", "choir", "double bass", "percussion", "drum kit")
STRINGS = ("strings bowed", "double bass")
NEAR_ONLY = ("upper", "lower", "inside", "outside", "front", "rear", "middle")
OTHERS = frozenset(
    {"rest", "resto", "reste", "others", "ubrige", "ubrigen", "altri", "autres", "overige", "demas"}
)
FROM = frozenset({"from", "del", "dal", "vom", "aus", "depuis", "out of", "desde"})
SHARING = frozenset(
    {"sharing", "share", "shares", "shared", "around", "gemeinsam", "teilen", "condivisi", "condividono"}
)
PLAIN = (
    "times",
    "people",
    "manner",
    "filler",
    "piece",
    "maybe",
    "stereo",
    "total",
    "both_sides",
    "via",
    "channels",
)
COVERED = ("mic", "di", "line", "amp", "stereo", "mono", "both_sides", *SIDES)


def apply_hints(draft: Draft, clause: Clause, context: Context, own: bool) -> bool:
    """Adds what a clause says to an entry. own: the clause stands apart from the source's words. Says if it was used."""
    items = clause.items
    used = came_from = False
    for at, item in enumerate(items):
        came_from = came_from or (item.key in FROM and item.start > draft.anchor.start)
        if _number(draft, items, at, clause, context, own) or _word(draft, items, at, clause, own, came_from):
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
    if item.hits and not item.is_("mic", "di", "line", "stereo"):
        return False
    if item.is_("maybe"):
        draft.optional = True
    elif item.is_("both_sides"):
        draft.both = True
        draft.sides += _two_sides(item)
    elif item.is_("stereo"):
        draft.stereo = True
        if item.is_("di", "line"):
            _pickup(draft, items, at, clause)
    elif item.is_("mono"):
        draft.mono = True
    elif item.is_("left", "right", *NEAR_ONLY) and not (item.is_("filler") and not own):
        return _side(draft, items, at, own)
    elif item.is_("amp") and not came_from:
        _amplifier(draft, items, clause)
    elif item.is_("mic", "di", "line"):
        _pickup(draft, items, at, clause)
        _one_for(draft, items, at)
    else:
        return False
    return True


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
    joined = _joins(clause, items[: at + 1]) or sliced
    draft.added = draft.added or (joined and other and pickup != "line")
    draft.pickups.add(pickup)


def _side(draft: Draft, items: Sequence[Item], at: int, own: bool) -> bool:
    item = items[at]
    name = next(SIDES[kind] for kind in SIDES if item.is_(kind))
    near = own or item.start - draft.anchor.end <= 3 or (at > 0 and items[at - 1].is_(*SIDES))
    drums = draft.source.family in ("drum kit", "percussion")
    placed = near and (drums or (own and len(items) <= 2))
    if item.is_(*NEAR_ONLY) and (not placed or any(other.is_("stereo", "channels") for other in items)):
        return False
    if name in draft.sides or (draft.both and not draft.sides):
        return False
    draft.sides.append(name)
    return True


def _number(
    draft: Draft, items: Sequence[Item], at: int, clause: Clause, context: Context, own: bool
) -> bool:
    item = items[at]
    behind = item.start >= draft.anchor.end
    roman = item.raw in ROMAN and item.number is None and behind and not own
    number = ROMAN[item.raw] if roman else item.number
    if number is None or not 1 <= number <= MOST or is_beside_the_point(items, at):
        return False
    if behind and not own and (draft.numbered or roman) and item.start - draft.anchor.end <= 1:
        return _after_name(draft, items, at, number, context)
    unit = _unit(items, at)
    if unit is not None and unit.is_("channels", "mic", "di", "line"):
        return _channels(draft, number, unit, item)
    times = any(0 <= near < len(items) and items[near].is_("times") for near in (at - 1, at + 1))
    if times or (unit is not None and unit.is_("amp", "stereo")):
        return _count(draft, number)
    if behind and not own:
        return _after_name(draft, items, at, number, context)
    if own:
        return _apart(draft, items, at, number, clause, context)
    last = not any(other.number is not None and other.start < draft.anchor.start for other in items[at + 1 :])
    people = at + 1 < len(items) and items[at + 1].is_("people") and not items[at + 1].hits
    return last and not people and _count(draft, number)


def is_beside_the_point(items: Sequence[Item], at: int) -> bool:
    """Sizes ("22 inch"), pieces ("5-piece"), counts of things ("2 wedges"), numbers of rows ("channel 4")."""
    before = items[at - 1] if at else None
    after = items[at + 1] if at + 1 < len(items) else None
    if (
        after is not None
        and after.is_("inch", "thing", "topic_monitor")
        and not after.is_("channels", "mic", "di", "times")
    ):
        return True
    if after is not None and after.is_("piece") and not after.is_("times"):
        return True
    return before is not None and before.key in (
        "number",
        "nr",
        "no",
        "ch",
        "channel",
        "input",
        "song",
        "songs",
    )


def _unit(items: Sequence[Item], at: int) -> Item | None:
    """The word that a number counts: the next one that isn't manner or "x"."""
    for item in items[at + 1 :]:
        if item.is_("mic", "di", "line", "channels", "amp", "stereo"):
            return item
        if not item.is_("times", "manner", "filler", "people"):
            return None
    return None


def _channels(draft: Draft, number: int, unit: Item, item: Item) -> bool:
    pickups = draft.pickups & {"mic", "di"}
    if draft.channels is not None:
        if not (unit.is_("di", "mic") and pickups and not unit.is_(*pickups)):
            return False
        draft.channels += number
        draft.added = True
    elif item.start < draft.anchor.start and not draft.source.group:
        return _count(draft, number)
    else:
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
    if number in draft.index:
        return False
    if not draft.numbered and not draft.index and draft.count is None and items[at].number is not None:
        sections = (
            draft.source.family in SECTIONED or draft.source.id == "solo_voice" or bool(draft.anchor.register)
        )
        several = (draft.plural and sections and number > 1) or draft.source.id == "choir"
        tallied = context.tallies and sections
        if several or tallied:
            draft.section = draft.source.family in STRINGS
            return _count(draft, number)
    draft.index.append(number)
    return True


def _span_end(items: Sequence[Item], at: int, number: int, context: Context) -> int | None:
    if at + 1 >= len(items) or items[at + 1].number is None:
        return None
    link = context.text[items[at].end : items[at + 1].start].strip()
    last = items[at + 1].number
    return last if link in ("-", "–", "—", "..", "…", "to") and number < last <= number + MOST else None


def _apart(
    draft: Draft, items: Sequence[Item], at: int, number: int, clause: Clause, context: Context
) -> bool:
    """A number in a clause of its own: "Tom 1, 2, 3", "Violins (8)", "Vocals: 3"."""
    last = _span_end(items, at, number, context)
    if last is not None:
        draft.index += list(range(number, last + 1))
        return True
    if at and items[at - 1].number is not None and number in draft.index:
        return False
    if clause.lead in ("+", "&", "and", "/", ",") and draft.index and len(items) <= 2:
        draft.index.append(number)
        return True
    rest = [item for other, item in enumerate(items) if other != at]
    sung = draft.source.family == "choir"
    plain = all(item.is_(*PLAIN) or (sung and (item.hits or item.register)) for item in rest)
    open_ = not draft.index or (draft.source.family in STRINGS and len(draft.index) == 1)
    if clause.lead in COUNTING_LEADS and plain and open_ and _count(draft, number):
        draft.section = draft.section or draft.source.family in STRINGS
        return True
    return False


def _wish(draft: Draft, items: Sequence[Item], context: Context) -> None:
    named = [item for item in items if item.is_("mic") and not item.hits]
    if named and not draft.wish and any(item.key not in PLAIN_MICROPHONE for item in named):
        draft.wish = context.text[named[0].start : named[-1].end]
    if any(item.is_("wish_must") for item in items) and draft.wish:
        draft.wish_binds = True


PLAIN_MICROPHONE = frozenset(
    {"mic", "mics", "mike", "microphone", "mikro", "mikros", "micro", "micros", "mikrofon"}
)


def apply_cell(drafts: Sequence[Draft], items: Sequence[Item], role: str, context: Context) -> None:
    """A microphone or count column of a table row, for the entries of that row."""
    for draft in drafts:
        if role == "count":
            number = next((item.number for item in items if item.number is not None), None)
            if number is not None and 1 <= number <= MOST:
                _count(draft, number)
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
    number = next((item.number for item in items if item.number is not None), None)
    if number == 2 and kinds and any(item.is_("times") for item in items) and draft.width == 1:
        draft.twice = True
    if any(item.is_("stereo") for item in items) and draft.source.pickup != "mic" and not draft.sides:
        draft.stereo = True
    _wish(draft, [item for item in items if not item.symbol], context)
