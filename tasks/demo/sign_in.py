"""First passwords of the demo people, and the file that only its owner reads."""

from __future__ import annotations

import os
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from django.contrib.auth.hashers import PBKDF2PasswordHasher, get_hasher, make_password

from studio.models import Role

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that looks like another


@dataclass(frozen=True, slots=True)
class SignIn:
    username: str
    password: str
    name: str
    roles: list[str]
    site: str
    about: str = ""

    @property
    def who(self) -> str:
        roles = " and ".join(str(Role(role).label) for role in self.roles) or "no role"
        return f"{self.name}, {roles}{f' ({self.about})' if self.about else ''}, {self.site}"


def new_password() -> str:
    """Three groups of four from 31 letters, 59 random bits: quick to type on a phone."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(3))


def quick_hash(password: str) -> str:
    """A tenth of Django's rounds: a random password can't be guessed, and a dozen of them are hashed at once.

    Django hashes it anew with all its rounds when the person first signs in.
    """
    hasher = get_hasher()
    if isinstance(hasher, PBKDF2PasswordHasher):
        return hasher.encode(password, hasher.salt(), iterations=hasher.iterations // 10)
    return make_password(password)


def write_sign_ins(path: Path, people: Sequence[SignIn]) -> None:
    """One line a person: sign-in name, password, who that is. Mode 0600 from the first byte on."""
    width = max((len(each.username) for each in people), default=0)
    lines = [f"{each.username:<{width}}  {each.password}  {each.who}\n" for each in people]
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f"{path.name}.{os.getpid()}")
    draft.unlink(missing_ok=True)
    with os.fdopen(
        os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
    ) as file:
        file.writelines(lines)
    draft.replace(path)
