"""Answering a call on a page, who hasn't said yes, and bringing an answer that came as a file."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from bookings.invitations.answering import NotAsked, answer_call, not_asked
from bookings.invitations.lines import MOST_SHOWN, line_of, not_accepted
from bookings.invitations.reading import MOST_BYTES
from bookings.invitations.replies import take
from bookings.models import Crew
from bookings.sessions.fields import Line
from studio.access import Act, SignedInRequest, allowed, may_answer

SAY = "Press accept, perhaps or decline."


class AnswerForm(forms.Form):
    because = Line(label="Why, if not", max_length=200)
    answer = forms.ChoiceField(
        choices=[choice for choice in Crew.Answer.choices if choice[0] != Crew.Answer.NONE],
        error_messages={"required": SAY, "invalid_choice": SAY},
    )


class FileForm(forms.Form):
    file = forms.FileField(
        label="The answer, as .eml or .ics",
        error_messages={
            "required": "Choose the file.",
            "empty": "The file is empty. Save the message again.",
        },
    )

    def clean_file(self) -> bytes:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError("The file is too big for an answer: at most 1 MB.")
        data: bytes = file.read()
        return data


@require_http_methods(["GET", "POST"])
def answer(request: SignedInRequest, call_id: int) -> HttpResponse:
    found = Crew.objects.select_related("person", "session__room__site")
    call = get_object_or_404(found, pk=call_id)
    if not may_answer(request.user, call.person):
        raise PermissionDenied("Only a manager can answer for somebody else.")
    posted = request.method == "POST"
    form = AnswerForm(request.POST) if posted else AnswerForm()
    back = _back(request, call)
    if form.is_valid():
        try:
            words = answer_call(
                request.user, call_id, form.cleaned_data["answer"], form.cleaned_data["because"]
            )
            messages.success(request, words)
        except (NotAsked, Crew.DoesNotExist) as why:
            messages.error(request, str(why) if isinstance(why, NotAsked) else "This call is gone meanwhile.")
        return redirect(back)
    context = {
        "call": call,
        "form": form,
        "back": back,
        "own": call.person == request.user,
        "trouble": not_asked(call, timezone.now()),
    }
    return render(request, "bookings/invitations/answer_page.html", context, status=422 if posted else 200)


def _back(request: SignedInRequest, call: Crew) -> str:
    """Where the press stood, if that is a page of this site."""
    wanted = request.POST.get("back") or request.GET.get("back") or ""
    if url_has_allowed_host_and_scheme(wanted, {request.get_host()}, request.is_secure()):
        return wanted
    return reverse("bookings:session", args=[call.session_id])


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def replies(request: SignedInRequest) -> HttpResponse:
    posted, now = request.method == "POST", timezone.now()
    form = FileForm(request.POST, request.FILES) if posted else FileForm()
    context = {
        "form": form,
        "told": take(form.cleaned_data["file"]) if form.is_valid() else [],
        "lines": [line_of(call, request.user, now) for call in not_accepted(now)],
        "most": MOST_SHOWN,
        "back": request.path,
        "fetched": bool(settings.MAILBOX),
    }
    status = 422 if posted and form.errors else 200
    return render(request, "bookings/invitations/replies.html", context, status=status)
