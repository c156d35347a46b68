"""Loads the demo house, or a house of your own in the same files, into an empty database."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from tasks.demo import DATA, DemoError, load_house


class Command(BaseCommand):
    help = "Load the demo house into an empty database, with dates counted from today."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--folder", type=Path, default=DATA, help="files of another house in the same form"
        )

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        sign_in_file = settings.VAR_DIR / "demo-sign-in.txt"
        try:
            loaded = load_house(folder, sign_in_file)
        except DemoError as error:
            raise CommandError(str(error)) from None
        except OSError as error:
            raise CommandError(f"The house is not loaded: {error}") from None
        self.stdout.write(f"The demo house is loaded: {loaded}. Passwords: {sign_in_file}")
