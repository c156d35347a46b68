"""`manage.py up`: the whole house on this machine, until Ctrl-C."""

from __future__ import annotations

import signal
import time
from argparse import ArgumentParser
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from django.conf import settings
from django.core.checks import run_checks
from django.core.management import BaseCommand, call_command
from django.db import DatabaseError, connection

from studio.models import Heartbeat, Person
from studio.up.children import Child, running
from studio.up.door import UpError, listening, only_one
from studio.up.parts import ANY_ADDRESS, answers, house, name_here

SECONDS_TO_START = 60


class Command(BaseCommand):
    help = "Start web server, worker and beat; Ctrl-C stops them. Several options come from the environment."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: loopback)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: 8000)")
        parser.add_argument("--without-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *args: Any, host: str, port: int, without_demo: bool, **options: Any) -> None:
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            with only_one(settings.VAR_DIR), listening(host, port) as door:
                self.prepare(with_demo=not without_demo)
                address = f"http://{name_here(host)}:{door.getsockname()[1]}"
                children = house(door, name_here(host), address)
                with running(children):
                    self.wait_until_alive(children, address)
                    self.say_how_to_sign_in(address)
                    if host in ANY_ADDRESS:
                        self.say("Other machines get in only under names that DESKHAND_HOSTS lists.")
                    connection.close()
                    self.watch(children)
        except UpError as trouble:
            raise SystemExit(str(trouble)) from None
        except KeyboardInterrupt:
            self.say("Deskhand has stopped.")

    def prepare(self, with_demo: bool) -> None:
        try:
            call_command("migrate", verbosity=0, interactive=False)
            if with_demo and not Person.objects.exists():
                self.say("Loading the demo house.")
                call_command("load_demo")
            Heartbeat.objects.all().delete()
        except DatabaseError as trouble:
            raise UpError(f"The database can't be used: {str(trouble).splitlines()[0]}.") from None
        for warning in run_checks(tags=["queue"], include_deployment_checks=True):
            self.say(f"Careful: {warning.msg} {warning.hint or ''}")

    def wait_until_alive(self, children: Sequence[Child], address: str) -> None:
        until = time.monotonic() + SECONDS_TO_START
        while not answers(address):
            if time.monotonic() > until:
                raise UpError(
                    f"Deskhand did not start in {SECONDS_TO_START} s; see {settings.VAR_DIR / 'log'}."
                )
            self.see_to(children)
            time.sleep(0.1)

    def watch(self, children: Sequence[Child]) -> None:
        while True:
            time.sleep(0.5)
            self.see_to(children)

    def see_to(self, children: Sequence[Child]) -> None:
        for child in children:
            if news := child.see_to():
                self.say(news)

    def say_how_to_sign_in(self, address: str) -> None:
        self.say(f"Deskhand is up at {address} (Ctrl-C stops it).")
        demo = settings.VAR_DIR / "demo-sign-in.txt"
        if demo.exists():
            self.say(f"Sign in as one of these people of the demo house:\n{demo.read_text('utf-8').rstrip()}")
        elif not Person.objects.exists():
            self.say('Nobody can sign in yet: python3 manage.py add_person mira "Mira Lund" --role manager')

    def say(self, sentence: str) -> None:
        with suppress(BrokenPipeError):  # whoever read the output may have gone
            self.stdout.write(sentence)
            self.stdout.flush()
