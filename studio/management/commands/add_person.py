"""Adds somebody who can sign in: how a house of your own begins."""

from __future__ import annotations

import secrets
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from studio.house.forms import PersonForm
from studio.models import Role


class Command(BaseCommand):
    help = "Add a person and print a first password, like: add_person mira “Mira Lund” --role manager"

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username", help="short name to sign in with")
        parser.add_argument("name")
        parser.add_argument("--role", action="append", choices=Role.values, required=True)
        parser.add_argument("--email", default="")

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        password = secrets.token_urlsafe(9)
        form = PersonForm(
            {
                "username": options["username"],
                "name": options["name"],
                "email": options["email"],
                "roles": options["role"],
                "password": password,
                "is_active": True,
            }
        )
        if not form.is_valid():
            said = "; ".join(f"{name}: {' '.join(map(str, texts))}" for name, texts in form.errors.items())
            raise CommandError(said)
        person = form.save()
        self.stdout.write(f"{person} signs in as {person.username} with {password}")
