"""`manage.py fetch_replies [--dry-run] [--json]`: answers to invitations, from the house's mailbox."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, CommandError

from bookings.invitations.mailbox import Fetched, NoMailbox, fetch


class Command(BaseCommand):
    help = "Enters the answers to invitations that have come to the house's mailbox (DESKHAND_MAILBOX)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--dry-run", action="store_true", help="tell what would become of each, and change nothing"
        )
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *_: Any, **given: Any) -> None:
        try:
            found = fetch(settings.MAILBOX, given["dry_run"])
        except NoMailbox as trouble:
            raise CommandError(str(trouble)) from None
        self.stdout.write((as_json if given["as_json"] else as_text)(found, given["dry_run"]))


def as_json(found: list[Fetched], dry_run: bool) -> str:
    rows = [
        {"message": each.number, "taken": told.taken, "left_unread": each.left, "words": told.words}
        for each in found
        for told in each.told
    ]
    whole = {"dry_run": dry_run, "messages": len(found), "answers": rows}
    return json.dumps(whole, ensure_ascii=False, indent=1)


def as_text(found: list[Fetched], dry_run: bool) -> str:
    taken = sum(told.taken for each in found for told in each.told)
    became = "would be entered" if dry_run else "entered"
    lines = [f"Messages: {len(found)}. Answers {became}: {taken}."]
    lines += [f"  Message {each.number}: {told.words}" for each in found for told in each.told]
    return "\n".join(lines)
