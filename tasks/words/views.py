"""Correcting what was read: on a session's inputs, and as a list of the house's own words."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from tasks.catalogue import load_catalogue
from tasks.follow import replan
from tasks.models import HouseWord
from tasks.words.forms import NOTHING, TeachForm
from tasks.words.teaching import NotTaught, forget, teach


def source_names() -> list[str]:
    return sorted(load_catalogue().by_name)


@require_http_methods(["GET", "POST"])
@allowed(Act.PLAN)
def words(request: SignedInRequest) -> HttpResponse:
    """The house's own words, and one more."""
    form = TeachForm(request.POST or None)
    if _taught(request, form):
        return redirect("tasks:words")
    by_id = load_catalogue().by_id
    rows = [
        {"word": word, "means": by_id[word.source].name if word.source in by_id else NOTHING}
        for word in HouseWord.objects.select_related("taught_by")
    ]
    context = {"form": form, "rows": rows, "names": source_names()}
    return render(request, "tasks/words/words.html", context, status=422 if form.errors else 200)


@require_POST
@allowed(Act.PLAN)
def correct(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Some words of this session's list mean something else; it is planned by that at once."""
    session = get_object_or_404(Session, pk=session_id)
    form = TeachForm(request.POST)
    if _taught(request, form):
        with transaction.atomic():
            replan(session.pk)
    else:
        said = " ".join(str(error) for errors in form.errors.values() for error in errors)
        typed = request.POST.get("words", "")[:60]
        messages.error(request, f"Nothing was changed for “{typed}”. {said}")
    return redirect("tasks:inputs", session_id)


@require_POST
@allowed(Act.PLAN)
def forget_word(request: SignedInRequest, word_id: int) -> HttpResponse:
    word = get_object_or_404(HouseWord, pk=word_id)
    forget(request.user, word)
    messages.success(request, f"“{word}” is read as the catalogue says again.")
    return redirect("tasks:words")


def _taught(request: SignedInRequest, form: TeachForm) -> bool:
    if not form.is_bound or not form.is_valid():
        return False
    said = form.cleaned_data
    try:
        word = teach(request.user, said["words"], said["source"])
    except NotTaught as problem:
        form.add_error(None, str(problem))
        return False
    messages.success(request, f"From now on “{word}” means {said['source'] or NOTHING} in this house.")
    return True
