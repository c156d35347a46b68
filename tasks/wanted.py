"""What a session wants of the planner: its list as read, what was changed by hand, who prefers what, and what each
input has had until now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta

from django.utils import timezone

from bookings.models import Session
from tasks.catalogue import load_catalogue
from tasks.catalogue.needs import needs
from tasks.models import ByHand, PapersSeen, Task
from tasks.planning.snapshot import Need, Pickup
from tasks.planning.steady import Had
from tasks.preferences import liked
from tasks.reading import Reading, ReadSource
from tasks.recall import had, last_of_job
from tasks.words.reading import read_here

SOON = timedelta(hours=48)


def wanted_of(session: Session, more: Sequence[ByHand] = ()) -> tuple[Reading, tuple[Need, ...]]:
    """The list as read, and every input in its order. more: what might be done by hand besides, not saved yet."""
    reading = read_here(session.instrument_list)
    by_hand = [*session.by_hand.all(), *more]
    added = [_read(row) for row in by_hand if row.act == ByHand.Act.ADD]
    wanted = needs([*reading.sources, *filter(None, added)], load_catalogue())
    return reading, tuple(liked(session, changed_by_hand(wanted, by_hand)))


def _read(row: ByHand) -> ReadSource | None:
    """As if the list ended with it; nothing where the catalogue no longer has it."""
    source = load_catalogue().by_id.get(row.source)
    if source is None:
        return None
    written = f"{row.count} {source.name}"
    channels = 1 if row.pickup in ("mic", "di", "line") and not source.pair and not source.parts else None
    return ReadSource(
        0, written, source.id, source.name, source.family, row.count, channels, row.pickup or "unknown"
    )


def changed_by_hand(wanted: Iterable[Need], by_hand: Iterable[ByHand]) -> list[Need]:
    """Without what was dropped, numbered anew; with the kinds and stands that were allowed."""
    rows = list(by_hand)
    dropped = {row.label for row in rows if row.act == ByHand.Act.DROP}
    left = [need for need in wanted if need.label not in dropped]
    kinds: dict[str, list[str]] = {}
    for row in rows:
        if row.act == ByHand.Act.ALLOW:
            kinds.setdefault(row.label, []).append(row.kind)
    stands = {row.label: row.kind for row in rows if row.act == ByHand.Act.STAND}
    return [
        replace(
            need,
            number=number,
            kinds=tuple(dict.fromkeys((*need.kinds, *kinds.get(need.label, ())))),
            stand=stands.get(need.label, need.stand) if need.pickup is Pickup.MIC else need.stand,
        )
        for number, need in enumerate(left, start=1)
    ]


def with_what_stood(wanted: Iterable[Need], before: Mapping[str, Had]) -> tuple[Need, ...]:
    """Each need with the unit that it has had, so that taking it away has its cost."""
    return tuple(
        replace(need, had=kept.unit, set_up=kept.set_up) if (kept := before.get(need.label)) else need
        for need in wanted
    )


def stood(session: Session, before: Mapping[str, Had]) -> dict[str, Had]:
    """What each input has had until now, as `had` says; for a first plan, in the last session of the job.

    Lines follow the list's order until somebody knows them; from then on they are kept.
    """
    if before:
        done = set_up(session)
        marked = {label: replace(each, set_up=label in done) for label, each in before.items()}
        return marked if done or known(session) else _without_lines(marked)
    last = last_of_job(session)
    return _without_lines(had(last)) if last else {}


def _without_lines(before: Mapping[str, Had]) -> dict[str, Had]:
    return {label: replace(each, line=None, recorder_input=None) for label, each in before.items()}


def known(session: Session) -> bool:
    """Whether somebody has seen the papers, or the day is so near that somebody soon will."""
    near = session.setup_at - timezone.now() < SOON
    return near or PapersSeen.objects.filter(session=session).exists()


def set_up(session: Session) -> set[str]:
    """The labels of the inputs of which something is ticked off as set up."""
    done = session.tasks.filter(stage=Task.Stage.SETUP, done_at__isnull=False, input__isnull=False)
    return set(done.values_list("input__label", flat=True))


def needs_of(text: str) -> tuple[Need, ...]:
    """What a list as typed wants, one need an input."""
    return needs(read_here(text).sources, load_catalogue())
