"""Numbers around a source: counts, channels, the numbers in names, and those that count something else."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.drafts import Draft
from tasks.reading.items import Item

MOST = 64
ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6}
COUNTING_LEADS = ("(", ":", "-", "cell", "")
SECTIONED = ("strings bowed", "brass", "woodwind", "choir", "double bass", "percussion", "drum kit")
STRINGS = ("strings bowed", "double bass")
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
MOST_SINGLE_PLAYERS = 3
SPANS = ("-", "–", "—", "..", "…", "to")
NUMBERED_THINGS = frozenset({"number", "nr", "no", "ch", "channel", "input", "song", "songs"})


def apply_number(
    draft: Draft, items: Sequence[Item], at: int, clause: Clause, context: Context, own: bool
) -> bool:
    """Adds what one number says to an entry, and says if it was used. own: the clause stands apart from the source."""
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
        return add_count(draft, number)
    if behind and not own:
        return _after_name(draft, items, at, number, context)
    if own:
        return _apart(draft, items, at, number, clause, context)
    last = not any(other.number is not None and other.start < draft.anchor.start for other in items[at + 1 :])
    people = at + 1 < len(items) and items[at + 1].is_("people") and not items[at + 1].hits
    return last and not people and add_count(draft, number)


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
    return before is not None and before.key in NUMBERED_THINGS


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
        return add_count(draft, number)
    else:
        draft.channels = number
    return True


def add_count(draft: Draft, number: int) -> bool:
    """Sets the count of an entry that has none yet."""
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
            return add_count(draft, number)
    draft.index.append(number)
    return True


def _span_end(items: Sequence[Item], at: int, number: int, context: Context) -> int | None:
    last = items[at + 1].number if at + 1 < len(items) else None
    if last is None or not number < last <= number + MOST:
        return None
    return last if context.text[items[at].end : items[at + 1].start].strip() in SPANS else None


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
    counting = clause.lead in COUNTING_LEADS or (sung and clause.lead == ",")
    if counting and plain and open_ and add_count(draft, number):
        many = draft.plural or bool(draft.index) or number > MOST_SINGLE_PLAYERS
        draft.section = draft.section or (draft.source.family in STRINGS and many)
        return True
    return False
