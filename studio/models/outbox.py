"""Letters as rows: what it takes for a letter to go out once, however many workers and ticks there are."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models
from django.db.models import Q


class PostedQuerySet(models.QuerySet[Any]):
    def due(self, now: datetime) -> PostedQuerySet:
        """What a sender may lease: due and waiting, or left in the middle by a lease that ran out."""
        free = Q(state=Posted.State.WAITING) | Q(state=Posted.State.SENDING, leased_until__lte=now)
        return self.filter(free, due_at__lte=now)


class Posted(models.Model):
    """state: waiting, sending (leased until leased_until), sent, failed, missed (too late), dropped.

    key is unique for what the letter tells whom; message_id is made from it, so that a letter that goes out
    twice after a crash carries the same Message-ID (RFC 5322 section 3.6.4). It goes out from due_at on, and
    no more from useless_after on.
    """

    class State(models.TextChoices):
        WAITING = "waiting"
        SENDING = "sending"
        SENT = "sent"
        FAILED = "failed"
        MISSED = "missed"
        DROPPED = "dropped"

    key = models.CharField(max_length=120, unique=True)
    due_at = models.DateTimeField()
    useless_after = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    leased_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    message_id = models.CharField(max_length=160, blank=True)
    error = models.CharField(max_length=300, blank=True)

    objects = PostedQuerySet.as_manager()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.key
