"""Pages on which a gear list is taken in: bring it, confirm its headings, see what it would change, take it in."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.gearlists.export import gear_as_csv
from studio.gearlists.forms import AnswersForm, HeadingsForm, ListForm
from studio.gearlists.recording import (
    answer_all_faults,
    answer_questions,
    bring_list,
    confirm_headings,
    forget_answers,
    names_in,
    open_faults,
    plan_list,
    read_list,
    take_in,
    unit_key,
)
from studio.gearlists.report import report_rows
from studio.gearlists.taking_in import ListRefused
from studio.models import GearList

SHOWN = 20
A_PAGE = 100


@require_http_methods(["GET", "POST"])
@allowed(Act.KEEP_GEAR)
def gear_lists(request: SignedInRequest) -> HttpResponse:
    form = ListForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        return redirect("studio:list_headings", bring_list(request.user, file.name or "list", file.read()).pk)
    brought = GearList.objects.defer("content").select_related("brought_by")[:SHOWN]
    context = {"form": form, "lists": brought}
    return render(request, "studio/gearlists/lists.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@allowed(Act.KEEP_GEAR)
def list_headings(request: SignedInRequest, pk: int) -> HttpResponse:
    brought = get_object_or_404(GearList, pk=pk)
    reading = read_list(brought)
    form = HeadingsForm(request.POST if request.method == "POST" else None, reading=reading)
    if request.method == "POST" and form.is_valid():
        confirm_headings(request.user, brought, form.chosen)
        return redirect("studio:gear_list", pk)
    context = {"list": brought, "reading": reading, "form": form}
    return render(request, "studio/gearlists/headings.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@allowed(Act.KEEP_GEAR)
def gear_list(request: SignedInRequest, pk: int) -> HttpResponse:
    """The dry run, row by row, and the questions; posting answers them."""
    brought = get_object_or_404(GearList, pk=pk)
    made = plan_list(request.user, brought)
    asked = [question for question in made.reading.questions if question.key]
    page = Paginator(asked, A_PAGE).get_page(request.GET.get("page"))
    names = [name for name in names_in(made.reading) if unit_key(name) not in brought.answers]
    data = request.POST if request.method == "POST" else None
    form = AnswersForm(data, questions=page, names=names)
    if request.method == "POST" and form.is_valid():
        answer_questions(request.user, brought, form.given)
        messages.success(request, "Kept. What is still open is below.")
        return redirect("studio:gear_list", pk)
    context = {"list": brought, "plan": made, "rows": report_rows(made), "form": form, "page": page}
    context["faults"] = len(open_faults(made))
    return render(request, "studio/gearlists/list.html", context, status=422 if form.errors else 200)


@require_POST
@allowed(Act.KEEP_GEAR)
def all_faults(request: SignedInRequest, pk: int) -> HttpResponse:
    count = answer_all_faults(request.user, get_object_or_404(GearList, pk=pk))
    messages.success(request, f"{count} answered with yes. They are reported when the list is taken in.")
    return redirect("studio:gear_list", pk)


@require_POST
@allowed(Act.KEEP_GEAR)
def forget(request: SignedInRequest, pk: int) -> HttpResponse:
    forget_answers(request.user, get_object_or_404(GearList, pk=pk))
    return redirect("studio:gear_list", pk)


@require_POST
@allowed(Act.KEEP_GEAR)
def take_in_list(request: SignedInRequest, pk: int) -> HttpResponse:
    brought = get_object_or_404(GearList, pk=pk)
    try:
        brought = take_in(request.user, brought, good_rows="good_rows" in request.POST)
    except ListRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Taken in. {brought.outcome}")
    return redirect("studio:gear_list", pk)


@require_GET
@allowed(Act.KEEP_GEAR)
def export_gear(request: SignedInRequest) -> HttpResponse:
    answer = HttpResponse(gear_as_csv(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="gear.csv"'
    return answer
