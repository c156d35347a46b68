"""From what a session wants and what the house has to a checked plan, with what was chosen by hand. Saves nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import models

from bookings.models import Session
from tasks.floor.known import Runs, runs_for
from tasks.models import ByHand
from tasks.planning import snapshot as records
from tasks.planning.changes import differences
from tasks.planning.checker import violations
from tasks.planning.costs import Costs
from tasks.planning.left import left_as_it_was
from tasks.planning.lines import on_near_lines
from tasks.planning.steady import Had, steadied
from tasks.planning.swap import breaks, swapped
from tasks.recall import had
from tasks.snapshots import Looked, look
from tasks.wanted import stood, wanted_of, with_what_stood
from tasks.weighing import costs_here

MOST_INPUTS = 200  # no room here has half as many; a longer list must not hold a booking up

NOTHING = Looked(records.Snapshot((), (), (), {}, lines=0, recorder_inputs=0), {}, {}, {})
EMPTY = records.Plan((), (), frozenset(), records.SolverReport("nothing to plan", 0, 0, 0))
"""What a session without a list sees of the house, and its plan: most bookings begin so, and needn't look."""


class PlanRefused(Exception):
    """The checker found a plan that breaks a hard rule. It is never saved; this is a fault of ours."""


@dataclass(frozen=True, slots=True)
class Wants:
    """All that a session brings to the planner. agreed: what its inputs have now; before: what they are to keep.

    needs: no more than are planned at once, the rest stands in left_over. questions: how many the list leaves open.
    """

    needs: tuple[records.Need, ...]
    left_over: tuple[records.Need, ...]
    questions: int
    agreed: Mapping[str, Had]
    before: Mapping[str, Had]
    costs: Costs
    runs: Runs

    def differences(self, made: records.Plan) -> list[str]:
        """What the plan changes of what was agreed, in sentences; nothing for a first plan."""
        return differences(self.agreed, made) if self.agreed else []


def same_hours(session: Session) -> models.QuerySet[Session]:
    """Confirmed sessions of the same site that have gear claimed in the same hours."""
    others = Session.objects.with_all().filter(room__site=session.room.site_id, plan__isnull=False)
    at_once = others.filter(setup_at__lt=session.clear_at, clear_at__gt=session.setup_at)
    return at_once.filter(status=Session.Status.CONFIRMED).exclude(pk=session.pk).order_by("pk")


def wants_of(session: Session, more: Sequence[ByHand] = ()) -> Wants:
    """more: what might be changed by hand besides."""
    reading, wanted = wanted_of(session, more)
    agreed = had(session)
    before = stood(session, agreed)
    wanted = with_what_stood(wanted, before)
    needs = wanted[:MOST_INPUTS]
    return Wants(
        needs=needs,
        left_over=wanted[MOST_INPUTS:],
        questions=len(reading.questions),
        agreed=agreed,
        before=before,
        costs=costs_here(),
        runs=runs_for(session.room, needs, session) if needs else Runs({}, {}),
    )


def look_for(session: Session, wants: Wants, besides: Iterable[Session] = ()) -> Looked:
    """The house as the session may use it; besides: other sessions whose gear counts as free."""
    if not wants.needs:
        return NOTHING
    return look(session.room, session.whole, wants.needs, session, wants.runs.metres, besides)


def made_from(session: Session, looked: Looked, wants: Wants) -> records.Plan:
    """The best plan from what the look found, as near to what stood as that allows. Raises PlanRefused."""
    if not wants.needs:
        return EMPTY
    made = checked_plan(looked.snapshot, wants.costs)
    made = steadied(looked.snapshot, made, wants.before, wants.costs)
    made = left_as_it_was(looked.snapshot, made, wants.before)
    lines = {label: each.line for label, each in wants.before.items()}
    made = on_near_lines(made, wants.runs.lines, lines, looked.snapshot.lines)
    made = with_pins(session, looked.snapshot, made)
    return with_too_many(made, wants.left_over)


def checked_plan(snapshot: records.Snapshot, costs: Costs | None = None) -> records.Plan:
    """The planner's plan, after a checker that shares no code with it has found nothing wrong."""
    from tasks.planning.plan import plan  # the solver takes a second to load: only who plans waits for it

    made = plan(snapshot, costs=costs)
    if broken := violations(snapshot, made):
        raise PlanRefused("; ".join(broken))
    return made


def with_pins(session: Session, snapshot: records.Snapshot, made: records.Plan) -> records.Plan:
    """The plan with what was chosen by hand, where no rule speaks against it; each input says which it was."""
    for pin in session.pins.select_related("unit", "preamp_channel__unit"):
        row = next((row for row in made.inputs if row.label == pin.label), None)
        if row is None:
            continue
        channel = pin.preamp_channel
        spot = (channel.unit.tag, channel.number) if channel else None
        chosen = pin.unit.tag if pin.unit else f"{channel}"
        other = swapped(snapshot, made, row.number, unit=pin.unit.tag if pin.unit else "", spot=spot)
        if broken := breaks(snapshot, made, other):
            made = because(made, row.number, f"{chosen} was chosen by hand, but {broken[0]}")
        else:
            made = because(other, row.number, f"{chosen} was chosen by hand")
    return made


def because(made: records.Plan, number: int, reason: str) -> records.Plan:
    """The plan with one more reason, first of all, on this input."""
    rows = (replace(row, why=(reason, *row.why)) if row.number == number else row for row in made.inputs)
    return replace(made, inputs=tuple(rows))


def with_too_many(made: records.Plan, left_over: Sequence[records.Need]) -> records.Plan:
    """The plan with what stands beyond the most inputs as open needs: nothing of a list is dropped."""
    reason = f"More than {MOST_INPUTS} inputs are not planned at once."
    help_ = ("Split the list over several sessions.",)
    more = [records.Unfilled(n.number, n.label, n.source, reason, help_) for n in left_over]
    return replace(made, unfilled=(*made.unfilled, *more))
