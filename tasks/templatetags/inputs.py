"""How plans, readings and reminders are said on pages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

from django import template

from studio.clock import say
from tasks.catalogue import load_catalogue
from tasks.catalogue.arrays import pair_in_words
from tasks.models import Plan, PlannedInput, Reminder, Task
from tasks.words import reading as house_reading

register = template.Library()

PICKUPS = {
    "mic": "microphone",
    "di": "DI",
    "mic+di": "microphone and DI",
    "line": "line",
    "unknown": "not said",
}


@register.filter
def pickup_in_words(pickup: str) -> str:
    return PICKUPS.get(pickup, pickup)


@register.filter
def in_words(things: Sequence[object]) -> str:
    """“a, b or c”."""
    words = [str(thing) for thing in things]
    return " or ".join(filter(None, [", ".join(words[:-1]), words[-1] if words else ""]))


@register.filter
def solver_in_words(plan: Plan) -> str:
    """Whether it is proven that there is no better plan."""
    match plan.status:
        case "proven":
            return f"Proven: no better plan exists ({plan.seconds:.2f} s)."
        case "best found":
            gap = plan.objective - plan.bound
            return f"Best found in {plan.seconds:.1f} s, not proven: at most {gap:g} points from the best."
        case _:
            return f"{plan.status.capitalize()}."


@register.filter
def reminder_in_words(reminder: Reminder, tz: tzinfo) -> str:
    match reminder.state:
        case Reminder.State.WAITING | Reminder.State.SENDING:
            return f"goes out {say(reminder.due_at, tz)}"
        case Reminder.State.SENT:
            return f"sent {say(reminder.sent_at, tz)}" if reminder.sent_at else "sent"
        case Reminder.State.FAILED:
            return f"could not be sent: {reminder.error}"
        case Reminder.State.MISSED:
            return "not sent: it was too late to be of use"
        case _:
            return "not sent: no longer wanted"


@register.filter
def done_of(tasks: Sequence[Task]) -> str:
    """“3 of 12 done, 25 min left”."""
    done = sum(task.done_at is not None for task in tasks)
    left = sum(task.minutes for task in tasks if task.done_at is None)
    return f"{done} of {len(tasks)} done" + (f", {left} min left" if left else "")


@register.filter
def minutes_in_words(minutes: int) -> str:
    """“54 min”, “3 h 10 min”, “2 days”."""
    if minutes >= 48 * 60:
        return f"{minutes // (24 * 60)} days"
    hours, rest = divmod(minutes, 60)
    return " ".join(filter(None, [f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else ""]))


@register.filter
def without_number(written: str) -> str:
    """What of an entry can be taught: its words, at most 60 letters of them."""
    return house_reading.without_number(written)[:60]


@register.filter
def pair_of(each: PlannedInput) -> tuple[str, ...]:
    """How the pair that this input begins stands, first line the set-up; empty for any other input."""
    source = load_catalogue().by_name.get(each.source)
    if source is None or each.pickup != PlannedInput.Pickup.MIC:
        return ()
    kind = each.unit.gear_model.microphone.transducer if each.unit else source.kinds[0]
    return pair_in_words(load_catalogue().arrays, source.id, each.label, kind)


@register.filter
def alternates_of(each: PlannedInput) -> list[str]:
    """Other ways to pick it up: for a player who moves or is shy, a second microphone."""
    source = load_catalogue().by_name.get(each.source)
    if source is None or each.pickup != PlannedInput.Pickup.MIC:
        return []
    return [alternate.in_words for alternate in load_catalogue().alternates.get(source.id, ())]
