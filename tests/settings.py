"""The site's settings for tests: a fresh var folder, no service of this machine's own, cheap passwords."""

import os
import shutil
import tempfile
from atexit import register
from pathlib import Path

FOLDER = Path(tempfile.mkdtemp(prefix="deskhand-tests-"))
register(shutil.rmtree, FOLDER, ignore_errors=True)
for name in [name for name in os.environ if name.startswith("DESKHAND_") or name == "EMAIL_URL"]:
    del os.environ[name]
os.environ["DESKHAND_VAR"] = str(FOLDER)
OUTER_REDIS_URL = os.environ.pop("REDIS_URL", "")

from studio.settings import *  # noqa: E402, F403
from studio.settings import DATABASES  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"] = {"NAME": str(FOLDER / "test.sqlite3")}  # a file, for threads and processes
CELERY_TASK_ALWAYS_EAGER = True  # a wake-up works at once; tests of the real queue start workers of their own
CELERY_TASK_EAGER_PROPAGATES = True
