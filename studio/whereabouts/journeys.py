"""How long gear travels between the sites of the house: asked and kept for each pair of them."""

from __future__ import annotations

from itertools import combinations
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.access import Act, SignedInRequest, allowed
from studio.models import Journey, Site
from studio.whereabouts.moves import travel_minutes


class JourneysForm(forms.Form):
    """One field a pair of sites; a house with one site has none."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pairs = list(combinations(Site.objects.order_by("pk"), 2))
        for first, second in self.pairs:
            self.fields[f"minutes-{first.pk}-{second.pk}"] = forms.IntegerField(
                label=f"{first} to {second}, minutes",
                min_value=0,
                max_value=24 * 60,
                initial=travel_minutes(first, second),
                error_messages={
                    "required": "Write the minutes with loading and unloading, like 45.",
                    "invalid": "Write the minutes as a whole number, like 45.",
                },
            )

    def save(self) -> None:
        with transaction.atomic():
            for first, second in self.pairs:
                minutes = self.cleaned_data[f"minutes-{first.pk}-{second.pk}"]
                Journey.objects.update_or_create(first=first, second=second, defaults={"minutes": minutes})


@require_http_methods(["GET", "POST"])
@allowed(Act.SET_UP_HOUSE)
def journeys(request: SignedInRequest) -> HttpResponse:
    form = JourneysForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Kept. What is booked from now on keeps this time free for the way.")
        return redirect("studio:away")
    status = 422 if form.errors else 200
    return render(request, "studio/whereabouts/journeys.html", {"form": form}, status=status)
