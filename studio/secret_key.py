"""The site's secret key: made at first start, kept in a file that only its owner reads."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path


def kept_secret_key(path: Path) -> str:
    """The key in the file, made if there is none. Processes that start together agree on one."""
    if not path.exists():
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
            file.write(secrets.token_urlsafe(50))
        with suppress(FileExistsError):
            os.link(draft, path)
        draft.unlink()
    return path.read_text().strip()
