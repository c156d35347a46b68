"""`manage.py fetch_replies [--dry-run] [--json]`: answers to invitations, from the house's mailbox."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, CommandError

from bookings.invitations.mailbox import Fetched, NoMailbox, fetch


class Command(BaseCommand):
    help = "Enter the answers to invitations that have come to the house's mailbox (DESKHAND_MAILBOX)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only count what is waiting")
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, dry_run: bool, json: bool, **options: Any) -> None:
        try:
            found = fetch(settings.MAILBOX, dry_run)
        except NoMailbox as trouble:
            raise CommandError(str(trouble)) from None
        self.stdout.write(as_json(found) if json else as_text(found))


def as_json(found: list[Fetched]) -> str:
    rows = [
        {"message": each.number, "taken": told.taken, "words": told.words}
        for each in found
        for told in each.told
    ]
    return json.dumps({"messages": len(found), "answers": rows}, ensure_ascii=False, indent=1)


def as_text(found: list[Fetched]) -> str:
    taken = sum(told.taken for each in found for told in each.told)
    lines = [f"{len(found)} messages, {taken} answers entered."]
    lines += [f"  message {each.number}: {told.words}" for each in found for told in each.told]
    return "\n".join(lines)
