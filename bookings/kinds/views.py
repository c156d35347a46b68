"""The pages on which a site edits its list of kinds."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings.kinds.forms import KindForm
from bookings.kinds.keeping import InUse, delete, lists, offer
from bookings.models import SessionKind
from studio.access import Act, SignedInRequest, allowed
from studio.models import Site


@require_GET
@allowed(Act.SET_UP_HOUSE)
def kinds(request: SignedInRequest) -> HttpResponse:
    return render(request, "bookings/kinds/kinds.html", {"lists": lists()})


@require_http_methods(["GET", "POST"])
@allowed(Act.SET_UP_HOUSE)
def new_kind(request: SignedInRequest, site_id: int) -> HttpResponse:
    site = get_object_or_404(Site, pk=site_id)
    return edit(request, KindForm(request.POST or None, site=site, instance=SessionKind()), site)


@require_http_methods(["GET", "POST"])
@allowed(Act.SET_UP_HOUSE)
def change_kind(request: SignedInRequest, kind_id: int) -> HttpResponse:
    kind = get_object_or_404(SessionKind.objects.select_related("site"), pk=kind_id)
    return edit(request, KindForm(request.POST or None, site=kind.site, instance=kind), kind.site)


def edit(request: SignedInRequest, form: KindForm, site: Site) -> HttpResponse:
    if form.is_valid():
        kind = form.save()
        messages.success(request, f"“{kind.name}” is on the list of {site}.")
        return redirect("bookings:kinds")
    status = 422 if request.method == "POST" else 200
    return render(request, "bookings/kinds/form.html", {"form": form, "site": site}, status=status)


@require_POST
@allowed(Act.SET_UP_HOUSE)
def offer_kind(request: SignedInRequest, kind_id: int) -> HttpResponse:
    """Withdraws it, or with offered=yes offers it again."""
    kind = get_object_or_404(SessionKind, pk=kind_id)
    offered = request.POST.get("offered") == "yes"
    offer(request.user, kind, offered)
    done = "is offered for new sessions" if offered else "is withdrawn; sessions that have it keep it"
    messages.success(request, f"“{kind.name}” {done}.")
    return redirect("bookings:kinds")


@require_POST
@allowed(Act.SET_UP_HOUSE)
def delete_kind(request: SignedInRequest, kind_id: int) -> HttpResponse:
    kind = SessionKind.objects.filter(pk=kind_id).first()
    if kind is None:
        messages.info(request, "That kind is gone already.")
        return redirect("bookings:kinds")
    try:
        delete(request.user, kind)
    except InUse as use:
        count = "1 session is" if use.sessions == 1 else f"{use.sessions} sessions are"
        messages.error(request, f"{count} of the kind “{kind.name}”: withdraw it instead of deleting it.")
    else:
        messages.success(request, f"“{kind.name}” is deleted.")
    return redirect("bookings:kinds")
