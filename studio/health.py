"""/healthz: whether the database, the queue and beat are alive."""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.models import Heartbeat

SILENCE_ALLOWED = timedelta(seconds=30)  # three heartbeats, see CELERY_BEAT_SCHEDULE
OK = "ok"
SIGNS = {
    Heartbeat.Part.QUEUE: "no worker has done anything",
    Heartbeat.Part.BEAT: "beat has sent nothing",
}


@require_safe
@login_not_required
def healthz(request: HttpRequest) -> JsonResponse:
    found = health()
    alive = all(answer == OK for answer in found.values())
    return JsonResponse(found, status=200 if alive else 503)


def health() -> dict[str, str]:
    """Gives "ok" or a sentence for each of database, queue and beat."""
    try:
        heard = {each.part: each for each in Heartbeat.objects.all()}
    except DatabaseError:
        unknown = "unknown while the database does not answer"
        return {"database": "the database does not answer", **dict.fromkeys(SIGNS, unknown)}
    return {"database": OK, **{part.value: sign_of_life(part, heard.get(part)) for part in SIGNS}}


def sign_of_life(part: Heartbeat.Part, last: Heartbeat | None) -> str:
    if last is None:
        return f"{SIGNS[part]} yet"
    if timezone.now() - last.beaten_at > SILENCE_ALLOWED:
        return f"{SIGNS[part]} since {last.beaten_at:%Y-%m-%d %H:%M:%S} UTC"
    return OK
