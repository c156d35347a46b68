"""Whether what the look-up keeps in memory is still what the database holds."""

from __future__ import annotations

import uuid

from django.db import models


class LookupStamp(models.Model):
    """One row for all processes: another word whenever something that can be looked up has changed."""

    ONLY = 1

    stamp = models.CharField(max_length=32)

    def __str__(self) -> str:
        return self.stamp

    @classmethod
    def renew(cls) -> None:
        cls.objects.update_or_create(pk=cls.ONLY, defaults={"stamp": uuid.uuid4().hex})
