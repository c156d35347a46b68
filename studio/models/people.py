"""People of the house. A person signs in with a short name; whoever has no password can't."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from studio.models.claims import Claimable, Resource
from studio.models.places import Site
from studio.models.telling import TellingQuerySet


class Role(models.TextChoices):
    MANAGER = "manager", "manager"
    ENGINEER = "engineer", "engineer"
    ASSISTANT = "assistant", "assistant"
    TECH = "tech", "bench tech"


class PersonManager(BaseUserManager["Person"]):
    def get_queryset(self) -> models.QuerySet[Person]:
        return TellingQuerySet(self.model, using=self._db)

    def with_role(self, role: Role) -> models.QuerySet[Person]:
        return self.filter(is_active=True, roles_held__role=role).order_by("name")

    def create_person(
        self, username: str, name: str, roles: list[str], password: str | None = None, **fields: Any
    ) -> Person:
        """A person with roles; without a password nobody can sign in as them."""
        person = self.model(username=username, name=name, **fields)
        person.set_password(password)
        person.save()
        RoleHeld.objects.bulk_create(RoleHeld(person=person, role=role) for role in roles)
        return person


class Person(AbstractBaseUser, Claimable):
    resource_kind = Resource.Kind.PERSON

    username = models.SlugField("sign-in name", max_length=40, unique=True)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="people", null=True, blank=True)
    is_active = models.BooleanField(default=True)
    freelance = models.BooleanField(
        "freelance", default=False, help_text="Sees their own calls only, not who else is in the building."
    )

    objects = PersonManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    @cached_property
    def roles(self) -> frozenset[str]:
        return frozenset(held.role for held in self.roles_held.all())


class RoleHeld(models.Model):
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="roles_held")
    role = models.CharField(max_length=10, choices=Role)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "role"], name="studio_role_held_once")]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_role_display()}"


class WorkingHours(models.Model):
    """A span of the week in which a person usually works. weekday is ISO 8601: 1 for Monday.

    ends at or before starts means the next day. Whoever has no rows works at any hour.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="working_hours")
    weekday = models.PositiveSmallIntegerField()
    starts = models.TimeField("from")
    ends = models.TimeField("until")

    class Meta:
        ordering = ["weekday", "starts", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(weekday__gte=1, weekday__lte=7), name="studio_working_hours_on_a_weekday"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: day {self.weekday}, {self.starts:%H:%M} to {self.ends:%H:%M}"


class Leave(models.Model):
    """Time that a person is away: it takes the person firmly, through a claim of its own."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="leaves")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    why = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["starts", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends__gt=models.F("starts")), name="studio_leave_ends_after_start"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: leave"
