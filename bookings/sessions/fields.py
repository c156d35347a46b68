"""Fields of the booking forms: what people type or paste, each refusal a sentence that says what to do."""

from __future__ import annotations

import unicodedata
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError

# Embeddings and overrides of direction (Unicode Standard Annex 9, 2.1 to 2.4): left open, they turn round
# whatever is printed after them. Right-to-left letters themselves need none of them.
DIRECTION_MARKS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
BREAKS = frozenset("\u2028\u2029")
EARLIEST_YEAR, LATEST_YEAR = 2000, 2199

if TYPE_CHECKING:
    OneOf = forms.ModelChoiceField[Any]
else:
    OneOf = forms.ModelChoiceField


def refuse_hidden_characters(text: str, allowed: str = "") -> None:
    """Raises for control characters and marks that would spoil the page, a mail or a calendar line."""
    for place, char in enumerate(text, start=1):
        control = unicodedata.category(char) == "Cc" and char not in allowed
        if control or char in DIRECTION_MARKS or (char in BREAKS and not allowed):
            raise ValidationError(
                f"Character {place} can't be seen and can't be kept here (U+{ord(char):04X}, often pasted "
                "along). Delete it or type the words by hand."
            )


def can_be_seen(text: str) -> bool:
    return any(unicodedata.category(char)[0] in "LNPS" for char in text)


class KnownClients(forms.TextInput):
    """Offers the clients that the page lists in its datalist `clients`."""

    def __init__(self) -> None:
        super().__init__(attrs={"list": "clients", "autocomplete": "off"})


class TypedText(forms.CharField):
    """Words that people type, kept in Unicode's composed form (NFC)."""

    allowed = ""

    def __init__(self, *, max_length: int, missing: str = "", **options: Any) -> None:
        super().__init__(max_length=max_length, required=bool(missing), **options)
        self.error_messages["required"] = missing
        self.error_messages["max_length"] = (
            "At most %(limit_value)d characters fit here; this has %(show_value)d. Shorten it."
        )

    def to_python(self, value: Any) -> str:
        text = unicodedata.normalize("NFC", super().to_python(value) or "")
        refuse_hidden_characters(text, self.allowed)
        if self.required and text and not can_be_seen(text):
            raise ValidationError(self.error_messages["required"])
        return text


class Line(TypedText):
    """One line, like a title."""


class Lines(TypedText):
    """Several lines, kept as typed; line ends become LF."""

    allowed = "\n\t"

    def __init__(self, *, rows: int, **options: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": rows}), **options)

    def to_python(self, value: Any) -> str:
        return super().to_python(str(value or "").replace("\r\n", "\n").replace("\r", "\n"))


class WallTime(forms.Field):
    """A time on the site's clock as a datetime-local control sends it: naive, to the minute.

    HTML standard, "local date and time": written 2026-06-01T10:00; seconds that a browser adds are dropped.
    """

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def __init__(self, *, missing: str, **options: Any) -> None:
        super().__init__(error_messages={"required": missing}, **options)

    def to_python(self, value: Any) -> datetime | None:
        if not value:
            return None
        try:
            wall = datetime.fromisoformat(str(value).strip())
        except ValueError:
            wall = None
        if wall is None or wall.tzinfo is not None:
            raise ValidationError(f"“{str(value)[:40]}” is not a time. Write it like 2027-03-04T10:00.")
        if not EARLIEST_YEAR <= wall.year <= LATEST_YEAR:
            raise ValidationError(f"Check the year: {wall.year} is too far away.")
        return wall.replace(second=0, microsecond=0)


def as_wall(instant: datetime, tz: Any) -> str:
    """The instant as the value of a datetime-local control."""
    return instant.astimezone(tz).strftime("%Y-%m-%dT%H:%M")
