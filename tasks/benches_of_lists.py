"""Benches from a list to its finished plan: read, planned, checked, claimed, kept with its reasons and checklist.

Each in a database of its own, made for it and thrown away. The house is invented: models are letters, tags are counted.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta
from itertools import cycle
from statistics import median

from django.db import transaction
from django.utils import timezone

from bookings.booking import Draft, book
from bookings.models import Client, Job, Session
from studio.benching import Measured, bench, own_database
from studio.faults import report_fault
from studio.models import (
    DirectBoxSpec,
    Fault,
    GearModel,
    GearUnit,
    MicrophoneSpec,
    Person,
    Phantom,
    PreampSpec,
    Role,
    Room,
    Site,
    Stock,
)
from tasks.follow import replan
from tasks.models import Plan, Task
from tasks.plan_session import plan_session
from tasks.planning.bench_cases import bare_seconds
from tasks.solving import look_for, wants_of
from tasks.wanted import needs_of

ROUNDS = 3
BAND = (
    *("kick in", "snare top", "snare bottom", "hi-hat", "rack tom", "floor tom", "overhead L/R", "bass DI"),
    *("electric guitar", "acoustic guitar", "lead vocal", "backing vocal", "trumpet", "trombone", "alto sax"),
    *("violin", "cello", "grand piano L/R", "keys L/R", "flute"),
)
SHELF = (
    ("K", MicrophoneSpec.Transducer.MOVING_COIL, Phantom.INDIFFERENT, None, 160, 0.45),
    ("L", MicrophoneSpec.Transducer.LARGE_CONDENSER, Phantom.NEEDS, 4.0, 148, 0.25),
    ("S", MicrophoneSpec.Transducer.SMALL_CONDENSER, Phantom.NEEDS, 2.5, 148, 0.40),
    ("R", MicrophoneSpec.Transducer.RIBBON, Phantom.MUST_NOT, None, 150, 0.20),
)


def list_of(inputs: int) -> str:
    """A band's list, over and over, that reads as this many inputs."""
    lines: list[str] = []
    for line in cycle(BAND):
        if len(needs_of("\n".join([*lines, line]))) > inputs:
            line = "lead vocal"
        lines.append(line)
        if len(needs_of("\n".join(lines))) >= inputs:
            return "\n".join(lines)
    raise AssertionError("the band has no end")


def house_for(inputs: int) -> Room:
    """Just about enough for them: microphones of four kinds, boxes, racks of eight switched in three ways."""
    site = Site.objects.create(name="Bench", zone="Europe/Berlin")
    room = Room.objects.create(site=site, name="Hall", lines=inputs + 4, recorder_inputs=inputs + 4)
    for letter, kind, phantom, current, most, share in SHELF:
        model = GearModel.objects.create(maker="", name=f"Model {letter}", kind=GearModel.Kind.MICROPHONE)
        MicrophoneSpec.objects.create(
            gear_model=model, transducer=kind, phantom=phantom, current_ma=current, max_spl_db=most
        )
        for number in range(round(inputs * share) + 2):
            GearUnit.objects.create(gear_model=model, tag=f"{letter}-{number:03}", site=site)
    box = GearModel.objects.create(maker="", name="Box", kind=GearModel.Kind.DI, channels=2)
    DirectBoxSpec.objects.create(gear_model=box, active=False, phantom=Phantom.INDIFFERENT)
    for number in range(inputs // 8 + 2):
        GearUnit.objects.create(gear_model=box, tag=f"B-{number:03}", site=site)
    ways = (PreampSpec.Switching.PER_CHANNEL, PreampSpec.Switching.PER_BANK, PreampSpec.Switching.WHOLE_UNIT)
    for number, way in zip(range(inputs // 8 + 2), cycle(ways), strict=False):
        rack = GearModel.objects.create(
            maker="", name=f"Eight {number}", kind=GearModel.Kind.PREAMP, channels=8
        )
        PreampSpec.objects.create(gear_model=rack, switching=way, bank_size=4)
        GearUnit.objects.create(gear_model=rack, tag=f"P-{number:02}", site=site, home_room=room)
    for stand in ("tall boom", "short boom", "straight", "clip"):
        Stock.objects.create(site=site, name=stand, count=inputs, kind=Stock.Kind.STAND)
    return room


def session_of(inputs: int, room: Room, manager: Person) -> Session:
    job = Job.objects.create(client=Client.objects.create(name="Bench"), title="Bench")
    start = timezone.now() + timedelta(days=7)
    draft = Draft(
        job.pk, room, "Bench", start, start, start + timedelta(hours=8), instrument_list=list_of(inputs)
    )
    return book(manager, draft)


def list_to_plan(inputs: int, target_s: float) -> None:
    @bench(f"list to plan {inputs} inputs", unit="s", target=target_s)
    def measure() -> Measured:
        with own_database():
            manager = Person.objects.create_person(username="bench", name="Bench", roles=[Role.MANAGER])
            pk = session_of(inputs, house_for(inputs), manager).pk
            session = Session.objects.with_all().get(pk=pk)
            _proven(inputs)
            taken = median(_seconds(lambda: plan_session(session), _forgotten) for _ in range(ROUNDS))
            wants = wants_of(session)
            bare = median(bare_seconds(look_for(session, wants).snapshot) for _ in range(ROUNDS))
        return Measured(
            taken,
            bare,
            f"list read, looked up, planned, checked, claimed and kept with reasons and checklist, median of {ROUNDS}; "
            "baseline: the same solver on the bare matching of units to inputs alone",
        )

    @bench(f"plan {inputs} inputs after a fault", unit="s", target=target_s)
    def after_a_fault() -> Measured:
        with own_database():
            manager = Person.objects.create_person(username="bench", name="Bench", roles=[Role.MANAGER])
            pk = session_of(inputs, house_for(inputs), manager).pk
            first, taken, moved = _seconds(lambda: replan(pk)), [], []
            for _ in range(ROUNDS):
                unit = Plan.objects.get(session=pk).inputs.filter(pickup="mic").order_by("-number")[0].unit
                if unit is None:
                    raise RuntimeError("an input has no microphone")
                report_fault(manager, unit, None, Fault.Effect.DEAD)
                taken.append(_seconds(lambda: replan(pk)))
                moved.append(len(Plan.objects.get(session=pk).changes))
            _proven(inputs)
        return Measured(
            median(taken),
            first,
            f"a microphone dies, planned anew in its transaction, median of {ROUNDS}; inputs that changed: "
            f"{', '.join(map(str, moved))}; baseline: planned anew without a fault",
        )


for size, seconds in [(16, 0.2), (48, 0.6), (96, 1.5)]:
    list_to_plan(size, seconds)


def _proven(inputs: int) -> None:
    plan = Plan.objects.get()
    if plan.status != "proven" or plan.inputs.count() + plan.unfilled.count() != inputs:
        raise RuntimeError(f"{inputs} inputs were not all proven optimal: {plan.status}")


def _forgotten() -> None:
    """A first plan again."""
    Plan.objects.all().delete()
    Task.objects.all().delete()


def _seconds(work: Callable[[], object], before: Callable[[], None] = lambda: None) -> float:
    before()
    began = time.perf_counter()
    with transaction.atomic():
        work()
    return time.perf_counter() - began
