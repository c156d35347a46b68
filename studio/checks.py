"""What `manage.py check --deploy` and `up` look at beside Django's own checks."""

from __future__ import annotations

from typing import Any

import redis
from django.conf import settings
from django.core.checks import CheckMessage, Warning, register


@register("queue", deploy=True)
def redis_keeps_every_message(**_: Any) -> list[CheckMessage]:
    """A Redis that evicts keys when memory is short would throw wake-ups away."""
    if not settings.REDIS_URL:
        return []
    try:
        with redis.from_url(settings.REDIS_URL, socket_timeout=5) as server:
            policy = server.config_get("maxmemory-policy").get("maxmemory-policy")
    except redis.ResponseError:
        return []  # a hosted Redis may keep its configuration to itself
    except redis.RedisError as problem:
        return [Warning(f"Redis does not answer: {problem}.", hint="See REDIS_URL.", id="studio.W001")]
    if policy == "noeviction":
        return []
    hint = "Set maxmemory-policy to noeviction, or give the queue a Redis of its own."
    return [Warning(f"Redis throws keys away when memory is short ({policy}).", hint=hint, id="studio.W002")]
