"""Series: sessions that repeat by a rule. Each occurrence is a session of its own; the rule says which belong."""

from __future__ import annotations

import zoneinfo
from datetime import datetime

from django.db import models


class Series(models.Model):
    """rule is an RRULE value (RFC 5545 section 3.3.10) with COUNT or UNTIL; starts is its DTSTART, the load-in
    of the first occurrence; it counts on the clock of `zone`.

    left_out are the load-ins, in ISO 8601 with an offset, that the rule gives and that were never booked or
    were taken out (EXDATE). A session's `occurrence` is the load-in that the rule gave it, whatever it has
    been moved to since (RECURRENCE-ID).
    """

    rule = models.CharField(max_length=400)
    zone = models.CharField(max_length=60)
    starts = models.DateTimeField()
    left_out = models.JSONField(default=list, blank=True)
    made_at = models.DateTimeField()
    follows = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="followed_by"
    )

    class Meta:
        verbose_name_plural = "series"

    def __str__(self) -> str:
        return self.rule

    @property
    def tz(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.zone)

    @property
    def days_left_out(self) -> list[datetime]:
        return [datetime.fromisoformat(each) for each in self.left_out]
