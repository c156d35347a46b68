"""Answering a call on its page, and bringing an answer that came as a file."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bookings.invitations.replies import MOST_BYTES, answer_by_hand, take
from bookings.models import Crew
from bookings.sessions.fields import Line
from studio.access import Act, SignedInRequest, allowed


class AnswerForm(forms.Form):
    answer = forms.ChoiceField(
        choices=[choice for choice in Crew.Answer.choices if choice[0] != Crew.Answer.NONE],
        error_messages={"required": "Say yes, perhaps or no.", "invalid_choice": "Say yes, perhaps or no."},
    )
    because = Line(label="Why", max_length=200)


class FileForm(forms.Form):
    file = forms.FileField(
        label="The answer, as .eml or .ics",
        error_messages={"required": "Choose the file.", "empty": "The file is empty."},
    )

    def clean_file(self) -> bytes:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError("The file is too big for an answer: at most 1 MB.")
        data: bytes = file.read()
        return data


@require_POST
@allowed(Act.SEE_BOARD)
def answer(request: SignedInRequest, call_id: int) -> HttpResponse:
    crew = get_object_or_404(Crew.objects.select_related("person", "session"), pk=call_id)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(str(error) for errors in form.errors.values() for error in errors))
        return redirect("bookings:session", crew.session_id)
    try:
        told = answer_by_hand(request.user, crew, form.cleaned_data["answer"], form.cleaned_data["because"])
    except PermissionError as refused:
        raise PermissionDenied(str(refused)) from None
    messages.success(request, told.words)
    return redirect("bookings:session", crew.session_id)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def replies(request: SignedInRequest) -> HttpResponse:
    posted = request.method == "POST"
    form = FileForm(request.POST, request.FILES) if posted else FileForm()
    told = take(form.cleaned_data["file"]) if form.is_valid() else []
    status = 422 if posted and form.errors else 200
    return render(request, "bookings/invitations/replies.html", {"form": form, "told": told}, status=status)
