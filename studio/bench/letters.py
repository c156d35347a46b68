"""Whoever reported a fault hears how it went on: that it is back and wants hearing, and how it ended."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.dispatch import receiver
from django.urls import reverse

from studio.clock import say
from studio.models import Fault, FaultEvent, GearUnit
from studio.notices import tell
from studio.signals import gear_state_changed

Kind, Step = FaultEvent.Kind, Fault.Step
USEFUL_FOR = timedelta(days=14)


@receiver(gear_state_changed, dispatch_uid="studio.tell_the_reporter")
def tell_the_reporter(sender: Any, unit: GearUnit, fault: Fault, **kwargs: Any) -> None:
    """One letter an event, in the transaction of the event; none to whoever made it."""
    reporter = fault.reported_by
    if reporter is None or not reporter.is_active:
        return
    if fault.closed_at is None and fault.step != Step.UNHEARD:
        return
    event = fault.events.select_related("by").last()
    if event is None or event.by_id == reporter.pk or (news := _news(fault, event)) is None:
        return
    name = str(fault.channel or unit)
    tz = unit.site.tz
    what = fault.words or fault.get_effect_display()
    told = f"You reported {say(fault.reported_at, tz)}: {name}, {what}."
    note = f"\nWhat was done: {fault.outcome}" if fault.outcome else ""
    subject, text = news
    tell(
        reporter,
        f"fault.{fault.pk}.{event.pk}.reporter",
        f"{name} {subject}",
        f"{told}\n{text}{note}\nThank you for saying so.",
        event.at + USEFUL_FOR,
        reverse("studio:unit", args=[unit.tag])
        + (f"?channel={fault.channel.number}" if fault.channel else ""),
    )


def _news(fault: Fault, event: FaultEvent) -> tuple[str, str] | None:
    """Subject and sentence; None for what the reporter need not hear of."""
    who = f" by {event.by}" if event.by else ""
    match event.kind:
        case Kind.STEP if fault.step == Step.UNHEARD:
            return (
                "is back, not yet heard",
                "It is back. When you next hear it in use, say on its page whether it is fine.",
            )
        case Kind.CLOSED:
            return "is mended", f"It is mended and back in service, closed{who}."
        case Kind.CLEARED:
            return "was not the cause", f"It was something else: this one is cleared{who} and in service."
    return None
