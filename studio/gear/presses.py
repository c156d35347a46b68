"""Presses on what is open on a unit: seen again, it wasn't this one, heard in use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.faults import FaultRefused, clear_suspect, hear, other_suspects, see_again
from studio.gear.answers import unit_address
from studio.models import Fault, GearUnit

Step, Severity = Fault.Step, Fault.Severity


@dataclass(frozen=True, slots=True)
class Open:
    """One open fault; others: what else is suspected of the same trouble."""

    fault: Fault
    others: list[Fault]

    @property
    def unheard(self) -> bool:
        return self.fault.step == Step.UNHEARD

    @property
    def times_seen(self) -> int:
        return 1 + sum(event.kind == "seen_again" for event in self.fault.events.all())


def open_on(unit: GearUnit) -> list[Open]:
    """Two queries for each doubt, one for all else."""
    standing = [fault for fault in unit.faults.all() if fault.closed_at is None]
    return [Open(f, other_suspects(f) if f.severity == Severity.SUSPECTED else []) for f in standing]


@require_POST
@allowed(Act.REPORT_FAULT)
def seen_again(request: SignedInRequest, pk: int) -> HttpResponse:
    words = request.POST.get("words", "").strip()[:300]
    return _pressed(
        request, pk, lambda fault: see_again(request.user, fault, words), "Noted once more. Thank you."
    )


@require_POST
@allowed(Act.REPORT_FAULT)
def cleared(request: SignedInRequest, pk: int) -> HttpResponse:
    words = request.POST.get("words", "").strip()[:200] or "it wasn't this one"
    return _pressed(request, pk, lambda fault: clear_suspect(request.user, fault, words), "It is cleared.")


@require_POST
@allowed(Act.REPORT_FAULT)
def heard(request: SignedInRequest, pk: int) -> HttpResponse:
    fine, words = request.POST.get("fine") == "yes", request.POST.get("words", "").strip()[:300]
    said = "It is back in service. Thank you." if fine else "The bench has it back on its list. Thank you."
    return _pressed(request, pk, lambda fault: hear(request.user, fault, fine, words), said)


def _pressed(request: SignedInRequest, pk: int, act: Callable[[Fault], Fault], said: str) -> HttpResponse:
    fault = get_object_or_404(Fault.objects.select_related("unit", "channel"), pk=pk)
    address = unit_address(fault.unit.tag, fault.channel.number if fault.channel else None)
    if fault.closed_at is not None:
        messages.error(request, "That has been closed meanwhile; nothing was changed.")
        return redirect(address)
    try:
        act(fault)
        messages.success(request, said)
    except FaultRefused as refused:
        messages.error(request, str(refused))
    return redirect(address)
