"""Photos, handed out to who may look up gear and to nobody else."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from studio.access import Act, SignedInRequest, allowed
from studio.models import Photo


@require_GET
@allowed(Act.SEE_GEAR)
def photo(request: SignedInRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Photo, pk=pk)
    try:
        with found.image.open("rb") as file:
            picture = file.read()
    except FileNotFoundError:
        raise Http404("The file of this photo is gone.") from None
    response = HttpResponse(picture, content_type="image/jpeg")
    response["Cache-Control"] = "private, max-age=86400"
    return response
