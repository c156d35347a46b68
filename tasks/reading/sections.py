"""Which rows are no input at all: headings, monitor mixes, hospitality, totals, greetings, signatures."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from tasks.reading.items import Item, Line
from tasks.reading.layout import Row
from tasks.reading.text import key_of

LASTING = ("topic_monitor", "topic_food")
PASSING = ("topic_light", "topic_system", "topic_backline")
WHY = {
    "topic_monitor": "monitor mixes",
    "topic_food": "hospitality",
    "topic_light": "lighting",
    "topic_system": "about the venue's system",
    "topic_backline": "backline, not an input",
    "topic_input": "heading",
}
CLOSING = re.compile(
    r"\s*(thanks?|thank you|thx|cheers|best|(kind |best |warm )?regards|many thanks|danke|vielen dank|merci|gracias"
    r"|grazie|bedankt|gru(ß|ss)|gr(ü|ue)(ß|ss)e|viele|liebe|mit freundlichen|cordialement|saludos|saluti"
    r"|groet|groeten|groetjes|met vriendelijke|à bientôt|hasta|a presto|tot|lg|vg|mfg|sincerely|yours|love)\b.{0,40}$",
    re.IGNORECASE,
)
FEWEST_ABOUT = 4
MOST_IN_TITLE = 4
GROUPS = frozenset(
    {
        "duo",
        "trio",
        "quartet",
        "quintet",
        "sextet",
        "septet",
        "octet",
        "band",
        "group",
        "ensemble",
        "quartett",
        "quintett",
    }
    | {
        "quatuor",
        "quintette",
        "cuarteto",
        "quinteto",
        "quartetto",
        "quintetto",
        "kwartet",
        "kwintet",
        "gruppe",
        "groupe",
    }
    | {"grupo", "gruppo", "groep", "banda"}
)
SUBJECT = re.compile(
    r"\s*(subject|betreff|objet|asunto|oggetto|onderwerp|from|to|date|cc|re|fwd|aw|wg|von|an|de|para|da)\s*:",
    re.IGNORECASE,
)


@dataclass(slots=True)
class Verdict:
    """why is empty for a row to be read; label_end is where a heading in front of the content ends."""

    why: str = ""
    label_end: int = 0
    heading: str = ""


def judge(rows: Sequence[Row], lines: Sequence[Line]) -> list[Verdict]:
    """One verdict a row, in order."""
    verdicts: list[Verdict] = []
    section, last_line, closed = "", -1, False
    for at, row in enumerate(rows):
        line = lines[row.line]
        gap = row.line - last_line > 1
        if gap and section in PASSING:
            section = ""
        verdict, section = _judge_row(row, line, section)
        closed = closed or bool(CLOSING.match(line.text) and not row.numbered and at)
        if closed and not verdict.why and _is_signature(rows, at, line):
            verdict = Verdict("signature")
        verdicts.append(verdict)
        last_line = row.line
    return verdicts


def _judge_row(row: Row, line: Line, section: str) -> tuple[Verdict, str]:
    if row.ruler:
        return Verdict("ruler"), section
    if row.header:
        return Verdict("table header"), section if section in LASTING and not _opens_inputs(row) else ""
    if row.cells and section not in LASTING:
        return Verdict(), section
    if SUBJECT.match(line.text) and not _has_hits(row.items[2:]):
        return Verdict("subject line"), section
    if re.match(r"\s*(subject|betreff|objet|asunto|oggetto|onderwerp)\s*:", line.text, re.IGNORECASE):
        return Verdict("subject line"), section
    topic = _heading(row, line)
    if topic:
        return Verdict(
            WHY[topic] if topic == "topic_input" else f"heading: {WHY[topic]}", heading=topic
        ), topic if topic != "topic_input" else ""
    topic, label_end = _label(row, line)
    if topic and topic != "topic_input":
        return Verdict(WHY[topic]), section
    if section in ("topic_system", "topic_light") and _names_sources(row):
        return Verdict(), section
    if section and section != "topic_backline":
        return Verdict(WHY[section]), section
    if section == "topic_backline":
        return Verdict(WHY[section], heading="backline"), section
    if _is_monitor_row(row):
        return Verdict("monitor mix"), section
    if _is_total(row):
        return Verdict("total"), section
    if _is_titled(row, line):
        return Verdict("heading"), section
    return Verdict(label_end=label_end), section


def _opens_inputs(row: Row) -> bool:
    """Whether a table header itself speaks of inputs; one under "Monitors" that doesn't goes on with them."""
    return any(item.is_("topic_input") for item in row.items) and not any(
        item.is_("topic_monitor") for item in row.items
    )


def _names_sources(row: Row) -> bool:
    """Whether a row under a heading such as "Soundcheck" is an entry all the same."""
    strong = any(not hit.weak for item in row.items for hit in item.hits)
    return strong and not any(item.is_("thing") for item in row.items)


def _words(items: Sequence[Item]) -> list[Item]:
    return [item for item in items if not item.symbol]


def _has_hits(items: Sequence[Item]) -> bool:
    return any(item.hits for item in items)


def topic_of(items: Sequence[Item]) -> str:
    """The topic that a heading's words speak of."""
    kinds = {kind for item in items for kind in item.kinds}
    for topic in (
        "topic_monitor",
        "topic_food",
        "topic_light",
        "topic_backline",
        "topic_input",
        "topic_system",
    ):
        if topic in kinds:
            return topic
    return ""


def _heading(row: Row, line: Line) -> str:
    """The topic of a row that is a heading and nothing more."""
    text = line.text.strip()
    words = _words(row.items)
    if not words or len(words) > 7:
        return ""
    marked = text.startswith("#") or text.endswith(":") or (text.startswith("**") and text.endswith("**"))
    topic = topic_of(words)
    hits = [item for item in words if item.hits and not (marked and topic_of([item]))]
    if text.startswith("#") and not hits:
        return topic or "topic_input"
    counted = (
        any(item.hits for item in words) and any(item.number is not None for item in words) and not marked
    )
    if hits or not topic or counted:
        return ""
    strange = [item for item in words if item.unknown]
    plain = all(
        item.unknown
        or item.is_(
            "topic_monitor",
            "topic_food",
            "topic_light",
            "topic_backline",
            "topic_input",
            "topic_system",
            "header",
            "filler",
            "manner",
            "and",
            "people",
            "piece",
            "figure",
            "with",
            "thing",
            "via",
            "mic",
            "di",
            "channels",
        )
        for item in words
    )
    if marked and plain:
        return topic
    if row.numbered and not text.isupper() and topic != "topic_input":
        return ""
    if any(item.number is not None for item in words) and not row.numbered and topic != "topic_input":
        return ""
    if row.bullet and not marked:
        return ""
    enough = len(strange) <= 1 or text.isupper()
    return topic if plain and enough and (len(words) <= 4 or text.isupper()) else ""


def _label(row: Row, line: Line) -> tuple[str, int]:
    """A topic in front of a colon or dash with content behind it: (topic, where the label ends)."""
    for at, item in enumerate(row.items[:7]):
        if item.symbol and (item.raw in ":" or (item.raw in "-–—" and item.gap and at)):
            front = _words(row.items[:at])
            if not front or len(front) > 5 or at + 1 >= len(row.items):
                return "", 0
            own = [i for i in front if i.hits]
            topic = topic_of(front) if not front[0].is_("greeting") else ""
            if own or not topic or (any(i.unknown for i in front[:1]) and topic != "topic_input"):
                return "", 0
            if topic in ("topic_monitor", "topic_system") and not front[0].is_(
                "topic_monitor", "topic_system"
            ):
                return "", 0
            if topic != "topic_input" and front[0].hits:
                return "", 0
            return topic, item.end
        if item.symbol and item.raw in ",;(":
            break
    return "", 0


def _is_titled(row: Row, line: Line) -> bool:
    """ "Drum session, mic wishes:": a title that names a source but ends in a colon and speaks of a list."""
    words = _words(row.items)
    if _is_about_an_event(row, words):
        return True
    if not line.text.rstrip().endswith(":"):
        return False
    titled = any(word.is_("topic_input") and not word.hits for word in words)
    plain = len(words) >= 2 and not any(word.number for word in words)
    return (titled and plain) or _is_about_a_group(words)


def _is_about_an_event(row: Row, words: Sequence[Item]) -> bool:
    """ "Gospel choir date", "Violin concerto": a source that only names what is recorded."""
    listed = row.numbered or row.bullet or len(words) > MOST_IN_TITLE or len(words) != len(row.items)
    if listed or not words[-1:] or not words[-1].is_("event") or words[-1].hits:
        return False
    return _has_hits(words) and not any(word.number is not None for word in words)


def _is_about_a_group(words: Sequence[Item]) -> bool:
    """ "Quartet tracking live in one room": a group and what it does."""
    return (
        len(words) >= FEWEST_ABOUT
        and key_of(words[0].raw) in GROUPS
        and any(word.is_("remark") or word.unknown for word in words)
    )


def _is_monitor_row(row: Row) -> bool:
    """ "Mix 2: drummer", "Aux 1 lead vox": a monitor word and a number in front."""
    words = _words(row.items)
    return (
        len(words) >= 2
        and words[0].is_("topic_monitor")
        and not words[0].hits
        and not words[0].is_("channels", "di", "line")
        and words[1].number is not None
    )


def _is_total(row: Row) -> bool:
    words = _words(row.items)
    if not words:
        return False
    if words[0].is_("total") and (len(words) == 1 or any(word.number is not None for word in words)):
        return True
    counted = words[0].number is not None and len(words) <= 6
    return counted and any(word.is_("total") for word in words[1:]) and not _has_hits(words)


def _is_signature(rows: Sequence[Row], at: int, line: Line) -> bool:
    row = rows[at]
    left = len(rows) - at
    few = len(_words(row.items)) <= 6
    return bool(CLOSING.match(line.text) and left <= 6) or (
        left <= 4 and few and not row.numbered and not row.bullet
    )
