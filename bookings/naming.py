"""How names are compared and found, the same on every database. Pure."""

from __future__ import annotations

import unicodedata


def same_name(name: str) -> str:
    """Two names are one when these agree: composed form (NFC), without case, single blanks."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def folded(text: str) -> str:
    """For searching: without case and without accents (“Núñez” is found by “nunez”)."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(char for char in apart if not unicodedata.combining(char)).split())


def found_in(query: str, text: str) -> bool:
    """Whether each word of the query stands somewhere in the text."""
    inside = folded(text)
    return all(word in inside for word in folded(query).split())
