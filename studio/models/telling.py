"""Rows whose changes are told even when many are changed at once, which Django itself tells nobody."""

from __future__ import annotations

from typing import Any, TypeVar

from django.db import models

from studio.signals import changed_at_once

M = TypeVar("M", bound=models.Model)


class TellingQuerySet(models.QuerySet[M]):
    def update(self, **values: Any) -> int:
        """As Django's own, which bulk_update goes through as well; then changed_at_once is sent."""
        found = super().update(**values)
        if found:
            changed_at_once.send(sender=self.model, fields=frozenset(values))
        return found

    update.alters_data = True  # type: ignore[attr-defined]


class TellingManager(models.Manager[M]):
    def get_queryset(self) -> models.QuerySet[M]:
        return TellingQuerySet(self.model, using=self._db)
