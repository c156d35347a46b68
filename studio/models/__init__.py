"""What there is, and what is taken when."""

from studio.models.claims import Claim, Claimable, Resource
from studio.models.faults import Fault
from studio.models.gear import (
    Channel,
    DirectBoxSpec,
    GearModel,
    GearUnit,
    MicrophoneSpec,
    Phantom,
    PreampSpec,
    Stock,
)
from studio.models.health import Heartbeat
from studio.models.lists import GearList, HeadingMatch
from studio.models.outbox import Posted
from studio.models.people import Leave, Person, Role, RoleHeld, WorkingHours
from studio.models.places import Room, RoomPair, Site

__all__ = [
    "Channel",
    "Claim",
    "Claimable",
    "DirectBoxSpec",
    "Fault",
    "GearList",
    "GearModel",
    "GearUnit",
    "HeadingMatch",
    "Heartbeat",
    "Leave",
    "MicrophoneSpec",
    "Person",
    "Phantom",
    "Posted",
    "PreampSpec",
    "Resource",
    "Role",
    "RoleHeld",
    "Room",
    "RoomPair",
    "Site",
    "Stock",
    "WorkingHours",
]
