"""Text to a Reading: the one door of this package."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from tasks.catalogue import Catalogue, Source
from tasks.reading.asking import suggestions_for, with_guesses
from tasks.reading.context import Context
from tasks.reading.coverage import gaps
from tasks.reading.drafts import Aside, Draft
from tasks.reading.finishing import drop_headings, finish
from tasks.reading.hints import apply_cell
from tasks.reading.items import Line, lines_of
from tasks.reading.layout import Row, rows_of
from tasks.reading.letters import spell_out
from tasks.reading.orchestral import desks, shorthand
from tasks.reading.prose import believed, is_prose, sentences
from tasks.reading.records import NotInput, Question, Reading, ReadSource
from tasks.reading.rowreading import RowReader
from tasks.reading.sections import Verdict, judge
from tasks.reading.wordbook import Wordbook, wordbook_for

FEWEST_TALLIES = 3
HIGH_TALLY = 5
NO_ALIASES: Mapping[str, str] = MappingProxyType({})


def read(text: str, catalogue: Catalogue, house_aliases: Mapping[str, str] = NO_ALIASES) -> Reading:
    """Reads an instrument list. house_aliases: the house's own words, each with the id of a source.

    Every letter, digit and symbol of the text lies in a source, a stated non-input or a question.
    """
    wordbook = wordbook_for(catalogue, tuple(sorted(house_aliases.items())))
    lines = lines_of(text, wordbook)
    context = Context(text, lines, catalogue)
    rows = rows_of(lines)
    for row in rows:
        row.items = with_guesses(row, wordbook, context.spoken)
    spell_out(rows, catalogue)
    verdicts = judge(rows, lines)
    if not _any_content(rows, verdicts):
        verdicts = [Verdict() if verdict.heading == "backline" else verdict for verdict in verdicts]
    return _read_rows(rows, verdicts, lines, context, wordbook)


def _any_content(rows: Sequence[Row], verdicts: Sequence[Verdict]) -> bool:
    return any(
        not verdict.why and any(item.hits for item in row.items)
        for row, verdict in zip(rows, verdicts, strict=True)
    )


def _read_rows(
    rows: Sequence[Row],
    verdicts: Sequence[Verdict],
    lines: Sequence[Line],
    context: Context,
    wordbook: Wordbook,
) -> Reading:
    drafts: list[Draft] = []
    asides: list[Aside] = []
    entries: list[ReadSource] = []
    readers: list[RowReader] = []
    heading: RowReader | None = None
    context.tallies = _tallies(rows)
    for row, verdict in zip(rows, verdicts, strict=True):
        if verdict.why:
            asides.append(Aside(row.start, row.end, verdict.why))
            continue
        scored, after = shorthand(context.text, row.start, row.end, context.catalogue)
        entries += scored
        played = desks(context.text, row.items, after, context.catalogue)
        if played is not None:
            entries.append(played)
            end = played.start + len(played.as_written)
            row.items = [item for item in row.items if not played.start <= item.start < end]
        prose = is_prose(row)
        parts = sentences(row) if prose else [row]
        above = _source_above(heading, row, context)
        readers += [_row_reader(part, max(after, verdict.label_end), context, prose, above) for part in parts]
        heading = _heading_after(readers[-1], heading)
    listed = {
        draft.source.id: draft for reader in readers if not reader.prose for draft in reversed(reader.drafts)
    }
    for reader in readers:
        kept, remarks = believed(reader, listed, context)
        drafts += kept
        asides += reader.asides + remarks
    drafts, asides = _without_players(drafts, asides)
    drafts, headings = drop_headings(drafts, rows, [line.text for line in lines])
    asides += headings
    entries += [finish(draft, context) for draft in drafts]
    return _assemble(entries, asides, lines, context, wordbook)


def _tallies(rows: Sequence[Row]) -> bool:
    """Whether the list counts behind the names ("Bugels 6", "Slagwerk 3")."""
    plain = [
        row
        for row in rows
        if not row.numbered and row.words and row.words[-1].is_("figure") and len(row.words) > 1
    ]
    if len(plain) < FEWEST_TALLIES:
        return False
    plural = sum(1 for row in plain if row.words[-2].plural)
    names = {row.words[0].key for row in plain}
    high = max(row.words[-1].number or 0 for row in plain) >= HIGH_TALLY
    return plural * 2 >= len(plain) or (high and len(names) == len(plain))


def _without_players(drafts: list[Draft], asides: list[Aside]) -> tuple[list[Draft], list[Aside]]:
    """Turntables and players beside a DJ mixer feed the mixer, not the recorder."""
    if not any(draft.source.id == "dj_mixer" for draft in drafts):
        return drafts, asides
    feeding = [
        Aside(draft.start, draft.end, "feeds the DJ mixer")
        for draft in drafts
        if draft.source.id == "media_player"
    ]
    return [draft for draft in drafts if draft.source.id != "media_player"], asides + feeding


def _heading_after(reader: RowReader, heading: RowReader | None) -> RowReader | None:
    """The row that heads the rows below, "Bass:" above "DI" and "Cab"; None where this row ends that."""
    row = reader.row
    if row.numbered or row.bullet or reader.under:
        return heading
    alone = len(reader.drafts) == 1 and not (reader.prose or row.cells)
    return reader if alone and reader.drafts[0].bare else None


def _source_above(heading: RowReader | None, row: Row, context: Context) -> Source | None:
    """What a heading names, for a row that is set off from it by a bullet, a number or the heading's colon."""
    if heading is None:
        return None
    line_end = context.text.find("\n", heading.row.start)
    colon = context.text[heading.row.start : line_end].rstrip().endswith(":")
    return heading.drafts[0].source if row.bullet or row.numbered or colon else None


def _row_reader(
    row: Row, start: int, context: Context, prose: bool, above: Source | None = None
) -> RowReader:
    reader = RowReader(row, context, prose=prose, begin=start, above=above)
    reader.read()
    for cell in row.cells:
        if cell.role in ("mic", "count") and reader.drafts:
            items = [item for item in row.all_items if cell.start <= item.start and item.end <= cell.end]
            apply_cell(reader.drafts, items, cell.role, context)
    return reader


def _assemble(
    entries: Iterable[ReadSource],
    asides: Iterable[Aside],
    lines: Sequence[Line],
    context: Context,
    wordbook: Wordbook,
) -> Reading:
    text = context.text
    sources = sorted(entries, key=lambda entry: (entry.start, -len(entry.as_written)))
    taken = [(entry.start, entry.start + len(entry.as_written)) for entry in sources]
    questions, others = [], []
    for aside in sorted(asides, key=lambda aside: (aside.start, -aside.end)):
        start, end = _trimmed(text, aside.start, aside.end)
        if end <= start:
            continue
        written = text[start:end]
        if aside.ask:
            questions.append(
                Question(start, written, aside.suggestions or suggestions_for(written, wordbook))
            )
        else:
            others.append(NotInput(start, written, aside.why))
        taken.append((start, end))
    others += gaps(lines, taken)
    return Reading(tuple(sources), tuple(sorted(others, key=lambda other: other.start)), tuple(questions))


def _trimmed(text: str, start: int, end: int) -> tuple[int, int]:
    piece = text[start:end]
    core = piece.strip()
    begin = start + (piece.index(core) if core else 0)
    return begin, begin + len(core)
