"""What speaks against calling somebody: never a refusal, always a sentence. Three queries for all of a crew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta, tzinfo

from bookings.drafts import Called, Draft
from bookings.models import Session
from bookings.people.hours import Usual, outside
from studio.claims import in_the_way
from studio.clock import say_span
from studio.models import Claim, Person, Site
from studio.rest import Call, Rule, Short, rules, sentence, short_rests
from studio.spans import Span

AROUND = timedelta(days=8)  # a week's period and the call that a rest in it follows
AWAY = {Claim.Purpose.LEAVE: "on leave", Claim.Purpose.BUSY: "busy elsewhere"}


def warnings_for(draft: Draft, session: Session | None = None) -> list[str]:
    """About everybody the draft calls: short rests, hours outside their usual ones, leave and appointments.

    `session` is the one that the draft changes. Leave and appointments of people whom the draft would take
    firmly aren't said here: they refuse it (bookings.booking.what_is_in_the_way).
    """
    if not draft.crew:
        return []
    ids = [called.person_id for called in draft.crew]
    people = Person.objects.select_related("site").prefetch_related("working_hours").in_bulk(ids)
    calls = {called: draft.calls_of(called) for called in draft.crew if called.person_id in people}
    ends = [span.end or draft.clear_at for spans in calls.values() for span in spans]
    starts = [span.start for spans in calls.values() for span in spans]
    if not starts:
        return []
    claims = claims_of(people.values(), Span(min(starts), max(ends)), session)
    said: list[str] = []
    for called, spans in calls.items():
        person = people[called.person_id]
        said += _about(person, called, spans, claims.get(person.resource_id, []), draft)
    return list(dict.fromkeys(said))


def rest_broken_by(person: Person, span: Span, site: Site, title: str = "this call") -> list[str]:
    """Sentences about the rests that are too short when the person works for this span as well. One query."""
    return [sentence(person.name, short, site.tz) for short in shortened_by(person, span, site, title)]


def shortened_by(person: Person, span: Span, site: Site, title: str) -> list[Short]:
    """The rests that are too short when the person works for this span as well. One query."""
    claims = claims_of([person], span, None).get(person.resource_id, [])
    return _shorts([span], title, claims, rules_of(site))


def rules_of(site: Site) -> list[Rule]:
    return rules(site.rest_hours, site.weekly_rest_hours)


def usual_of(person: Person) -> list[Usual]:
    return [Usual(row.weekday, row.starts, row.ends) for row in person.working_hours.all()]


def claims_of(people: Iterable[Person], span: Span, but_not: Session | None) -> dict[int, list[Claim]]:
    """What firmly takes these people from a week before the span to a week after it. One query."""
    around = Span(span.start - AROUND, (span.end or span.start) + AROUND)
    found: dict[int, list[Claim]] = {}
    for claim in in_the_way([person.resource_id for person in people], around, but_not):
        found.setdefault(claim.resource_id, []).append(claim)
    return found


def _about(
    person: Person, called: Called, spans: list[Span], claims: list[Claim], draft: Draft
) -> Iterator[str]:
    tz = draft.room.site.tz
    if not (draft.firm and called.assigned):
        yield from _away(person, spans, claims, tz)
    for short in _shorts(spans, draft.title or "this session", claims, rules_of(draft.room.site)):
        yield sentence(person.name, short, tz)
    yield from _unusual(person, spans, person.site.tz if person.site else tz, tz)


def _shorts(spans: list[Span], title: str, claims: list[Claim], of_site: list[Rule]) -> list[Short]:
    called = [claim for claim in claims if claim.purpose == Claim.Purpose.CALL and claim.ends]
    standing = [Call(claim.span, claim.reason) for claim in called]
    new = [Call(span, title) for span in spans]
    return short_rests(standing, new, of_site)


def _away(person: Person, spans: list[Span], claims: list[Claim], tz: tzinfo) -> Iterator[str]:
    for claim in claims:
        words = AWAY.get(Claim.Purpose(claim.purpose))
        if words and any(claim.span.overlaps(span) for span in spans):
            yield f"{person.name} is {words} {say_span(claim.span, tz)}."


def _unusual(person: Person, spans: list[Span], theirs: tzinfo, tz: tzinfo) -> Iterator[str]:
    pattern = usual_of(person)
    parts = [part for span in spans for part in outside(span, pattern, theirs)]
    if parts:
        when = "; ".join(say_span(part, tz) for part in parts)
        yield f"{person.name} doesn't usually work then: {when}."
