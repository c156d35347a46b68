"""Pages about gear: the look-up, one unit, all units."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any

from django.contrib import messages
from django.db.models import Count
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_http_methods
from django_tables2 import RequestConfig

from studio.access import Act, SignedInRequest, allowed, may, require
from studio.bench.wants import Want, wants_of
from studio.clock import say
from studio.faults import FaultRefused, report_fault
from studio.gear.answers import answer, answers, channel_of, unit_address, unit_by_tag
from studio.gear.counted import counted
from studio.gear.details import details
from studio.gear.equals import equals
from studio.gear.filters import UnitFilter
from studio.gear.forms import AskForm, ReportForm
from studio.gear.lanes import day_of, lanes, percent
from studio.gear.presses import open_on
from studio.gear.queries import ranked_units
from studio.gear.search import find_stock, found
from studio.gear.state import channel_rows
from studio.gear.tables import UnitTable
from studio.models import Channel, Fault, GearModel, GearUnit, Person, Room
from studio.photos.keeping import keep_photo

SHOWN = 12
A_PAGE = 50
NEXT = 3


@require_GET
@allowed(Act.SEE_GEAR)
def gear_search(request: SignedInRequest) -> HttpResponse:
    """One box. The name of one unit or channel opens its page at once; htmx gets the answers alone."""
    form = AskForm(request.GET, tz=zone_of(request.user))
    at = asked_time(form)
    query = form.cleaned_data.get("q", "")
    hits, total = found(query, SHOWN)
    stock = find_stock(query, SHOWN)
    if stock and stock[0].exact and not (hits and hits[0].exact):
        hits = []  # the very name of something counted: what units have of it in their words can wait
    alone = wants_part(request)
    if hits and hits[0].exact and not alone and not form.errors:
        return redirect(_with_time(unit_address(hits[0].tag, hits[0].channel), request.GET.get("at", "")))
    context = {
        "form": form,
        "query": query,
        "answers": answers(hits, at or timezone.now(), request.user),
        "more": total - len(hits),
        "counted": counted(stock, at or timezone.now(), request.user),
        "at": at,
        "tz": zone_of(request.user),
        "kinds": [] if query else kinds_with_counts(),
        "rooms": [] if query or alone else Room.objects.order_by("site", "order", "name"),
    }
    return render(request, "studio/gear/answers.html" if alone else "studio/gear/search.html", context)


@require_http_methods(["GET", "POST"])
@allowed(Act.SEE_GEAR)
def unit(request: SignedInRequest, tag: str) -> HttpResponse:
    """Everything about one unit; posting reports a fault of it."""
    found = unit_by_tag(tag)
    if found is None:
        raise Http404(f"No unit is called {tag}.")
    if found.tag != tag and request.method == "GET":
        return redirect(f"{unit_address(found.tag)}?{request.GET.urlencode()}")
    channel = channel_of(found, number_in(request.GET.get("channel", "")))
    pressed = {"channel": channel, "effect": request.GET.get("effect", "")}
    report = ReportForm(request.POST or None, request.FILES or None, unit=found, initial=pressed)
    if request.method == "POST":
        require(request.user, Act.REPORT_FAULT)
        if report.is_valid() and (fault := _report(request.user, found, report)):
            return _reported(request, found, fault)
    context = {**_unit_context(request, found, channel), "report": report}
    return render(request, "studio/gear/unit.html", context, status=422 if report.errors else 200)


@require_GET
@allowed(Act.SEE_GEAR)
def gear_list(request: SignedInRequest) -> HttpResponse:
    """All units, filtered, sorted and in pages; the number of queries does not depend on how many."""
    chosen = UnitFilter(request.GET or None, queryset=ranked_units())
    chosen.form.tz = zone_of(request.user)
    table = UnitTable(chosen.qs, at=chosen.span.start if chosen.span else None)
    RequestConfig(request, paginate={"per_page": A_PAGE, "silent": True}).configure(table)
    return render(request, "studio/gear/list.html", {"filter": chosen, "table": table})


def wants_part(request: SignedInRequest) -> bool:
    """htmx asks for a part of the page; going back in its history, for the whole."""
    return bool(request.htmx) and not request.htmx.history_restore_request


def zone_of(person: Person) -> tzinfo:
    """The clock on which a person types a time that belongs to no site."""
    return person.site.tz if person.site else timezone.get_default_timezone()


def asked_time(form: AskForm) -> datetime | None:
    """The time asked about; None for now, also where what was typed is no time (the form says so)."""
    form.is_valid()
    at: datetime | None = form.cleaned_data.get("at")
    return at


def number_in(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 3 else None


def kinds_with_counts() -> list[dict[str, Any]]:
    """Kinds that the house has, with how many units of each."""
    counted = GearUnit.objects.filter(retired=False).values_list("gear_model__kind").annotate(n=Count("pk"))
    numbers = dict(counted.order_by())
    return [
        {"kind": kind, "name": label, "count": numbers[kind]}
        for kind, label in GearModel.Kind.choices
        if kind in numbers
    ]


def _unit_context(request: SignedInRequest, found: GearUnit, channel: Channel | None) -> dict[str, Any]:
    tz = found.site.tz
    ask = AskForm(request.GET, tz=tz)
    at = asked_time(ask)
    when = at or timezone.now()
    return {
        "unit": found,
        "channel": channel,
        "ask": ask,
        "at": at,
        "when": when,
        "tz": tz,
        "answer": answer(found, channel, when, request.user),
        "rows": channel_rows(found, when, channel.number if channel else None),
        "lanes": lanes(found, when, request.user),
        "lane_at": percent(when, day_of(when, tz)),
        "equals": equals(found, channel, when),
        "details": details(found),
        "history": found.faults.all(),
        "photos": found.photos.all()[:6],
        "open": open_on(found),
    }


def _report(by: Person, found: GearUnit, report: ReportForm) -> Fault | None:
    """The fault with its photo; None where it makes no sense, which the form then says."""
    said = dict(report.cleaned_data)
    photo, channel, effect = said.pop("photo"), said.pop("channel", None), said.pop("effect")
    said["severity"] = said["severity"] or None
    try:
        fault = report_fault(by, found, channel, effect, **said)
    except FaultRefused as refused:
        report.add_error(None, str(refused))
        return None
    if photo:
        keep_photo(by, found, photo, fault)
    return fault


def _reported(request: SignedInRequest, found: GearUnit, fault: Fault) -> HttpResponse:
    messages.success(
        request, f"Reported: {fault}, {fault.get_severity_display()}. Thank you, the bench knows of it."
    )
    if may(request.user, Act.SEE_HOUSE) and (wanted := wants_of([fault])[fault.pk]):
        messages.warning(request, _wanted(wanted, found.site.tz))
    address = unit_address(found.tag, fault.channel.number if fault.channel else None)
    return redirect(f"{address}#said")  # else a browser stays at the form, far below what it is told


def _wanted(wants: list[Want], tz: tzinfo) -> str:
    """The next three in words, and how many more."""
    said = [f"{want.title}, {say(want.span.start, tz)}" for want in wants[:NEXT]]
    more = f"; and {len(wants) - NEXT} more" if len(wants) > NEXT else ""
    return f"It is wanted for {'; '.join(said)}{more}."


def _with_time(address: str, at: str) -> str:
    if not at:
        return address
    return f"{address}{'&' if '?' in address else '?'}{urlencode({'at': at})}"
