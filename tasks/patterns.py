"""Polar patterns as people and catalogues write them. Pure."""

from __future__ import annotations

import re

SPELT = {
    "omni": r"omni\w*|sphere|spherical|kugel\w*|non-?directional",
    "figure-of-eight": r"figure[ -]?(?:of[ -]?)?(?:eight|8)(?:-like)?|fig\.? ?8|bi-?directional|acht\w*|eight",
    "supercardioid": r"super-?cardioid|superniere",
    "hypercardioid": r"hyper-?cardioid|hyperniere",
    "wide cardioid": r"(?:wide|sub)[ -]?cardioid|breite niere",
    "cardioid": r"cardioid\w*|niere",
}
KNOWN = re.compile(
    "|".join(
        f"(?P<{name.replace('-', '_').replace(' ', '__')}>\\b(?:{words})\\b)" for name, words in SPELT.items()
    ),
    re.IGNORECASE,
)


def patterns_in(text: str) -> tuple[str, ...]:
    """The patterns that a text names, each once, in its order: “omni or figure of 8” is omni, figure-of-eight."""
    found = (match.lastgroup or "" for match in KNOWN.finditer(text))
    return tuple(dict.fromkeys(name.replace("__", " ").replace("_", "-") for name in found))
