"""E-mail as a way of sending: one connection a round, and what the mail server's answers mean."""

from __future__ import annotations

import smtplib
from contextlib import suppress
from email.utils import parseaddr
from enum import Enum
from types import TracebackType
from typing import Self

from django.conf import settings
from django.core.mail import EmailMessage, get_connection


class Trouble(Enum):
    REFUSED = "this letter will never be taken"
    LATER = "this letter may be taken later"
    DOWN = "no letter is taken at present"


class Undelivered(Exception):
    """A letter was not taken. The words are the mail server's own where it gave any."""

    def __init__(self, trouble: Trouble, words: str) -> None:
        super().__init__(words)
        self.trouble = trouble
        self.words = words


class Post:
    """A connection opened with the first letter, made anew after trouble, closed with the round."""

    def __init__(self) -> None:
        self.connection = get_connection()
        self.down = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def hand_over(self, letter: EmailMessage) -> None:
        """Returns once the mail server has taken the letter. Raises Undelivered."""
        try:
            self.connection.open()
            self.connection.send_messages([letter])
        except (OSError, ValueError) as error:
            self._close()
            found = undelivered(error)
            self.down = found.trouble is Trouble.DOWN
            raise found from error

    def _close(self) -> None:
        with suppress(OSError):
            self.connection.close()


def undelivered(error: Exception) -> Undelivered:
    """What an error means. Reply codes from 500 on are for good (RFC 5321 section 4.2.1).

    A refused sender or sign-in is the house's own setting, so that concerns no single letter.
    """
    match error:
        case smtplib.SMTPRecipientsRefused(recipients=answers) if answers:
            code, words = next(iter(answers.values()))
            return Undelivered(_for_good(code), f"{code} {_text(words)}")
        case smtplib.SMTPDataError(smtp_code=code, smtp_error=words):
            return Undelivered(_for_good(code), f"{code} {_text(words)}")
        case smtplib.SMTPResponseException(smtp_code=code, smtp_error=words):
            return Undelivered(Trouble.DOWN, f"{code} {_text(words)}")
        case ValueError():
            return Undelivered(Trouble.REFUSED, f"The address can't be used: {error}")
        case TimeoutError() | smtplib.SMTPServerDisconnected(__context__=TimeoutError()):
            return Undelivered(Trouble.DOWN, "The mail server does not answer.")
    return Undelivered(Trouble.DOWN, f"The mail server gives no service: {error}")


def _for_good(code: int) -> Trouble:
    return Trouble.REFUSED if code >= 500 else Trouble.LATER


def _text(words: bytes | str) -> str:
    return words.decode(errors="replace") if isinstance(words, bytes) else words


def message_id(prefix: str, key: str) -> str:
    """A Message-ID that the same letter always has, from the domain that the house writes from."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2].encode("idna").decode()
    return f"<{prefix}.{key}@{domain}>"
