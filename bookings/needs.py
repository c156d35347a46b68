"""What a session still needs before it can go ahead. Layers to the right add their own facts with `also`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from bookings.deadlines import undecided_from
from bookings.models import Session
from bookings.wishes import not_kept
from studio.models import Role

Needs = Mapping[int, Sequence[str]]
Look = Callable[[Sequence[Session]], Needs]
_looks: list[Look] = []


def also(look: Look) -> Look:
    """Registers a function that is asked about all sessions of a page at once.

    It gets sessions made `with_all()` and gives short phrases by session id, like "2 inputs not filled".
    It asks the database a constant number of questions, however many sessions there are.
    """
    if look not in _looks:
        _looks.append(look)
    return look


def needs_of(sessions: Sequence[Session], now: datetime) -> dict[int, list[str]]:
    """Short phrases about each session that stands; a session that needs nothing has an empty list."""
    found = {session.pk: own_needs(session, now) for session in sessions}
    standing = [session for session in sessions if not session.cancelled]
    for pk, tags in not_kept([session for session in standing if session.end > now]).items():
        found[pk] += [f"{tag} isn't kept for it" for tag in tags]
    for look in _looks:
        for pk, phrases in look(standing).items():
            found[pk] += phrases
    return found


def own_needs(session: Session, now: datetime) -> list[str]:
    """What bookings itself knows: the list and the people before the end, the times in and out after it."""
    if session.cancelled or not session.is_work:
        return []
    if session.end <= now:
        worked = session.worked is not None or session.status == Session.Status.HELD
        return [] if worked else ["times in and out not entered"]
    missing = [yes_or_no(session, now)] if session.is_hold and is_for_tomorrow(session, now) else []
    roles = {crew.role for crew in session.crew.all()}
    missing += [] if session.instrument_list.strip() else ["no instrument list"]
    missing += [f"no {Role(role).label}" for role in (Role.ENGINEER, Role.ASSISTANT) if role not in roles]
    return missing


def is_for_tomorrow(hold: Session, now: datetime) -> bool:
    """Whether its load-in is tomorrow on the site's calendar, or sooner."""
    tz = hold.room.site.tz
    return (hold.load_in.astimezone(tz).date() - now.astimezone(tz).date()).days <= 1


def yes_or_no(hold: Session, now: datetime) -> str:
    """From the hour that the house sets, the hold is asked for a yes or no."""
    site = hold.room.site
    if now < undecided_from(hold.load_in, site.decide_hour, site.tz):
        return f"hold undecided, yes or no from {site.decide_hour:%H:%M}"
    return "hold undecided: ask for a yes or no now"
