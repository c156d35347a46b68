"""What there is, and what is taken when."""

from studio.models.claims import Claim, Claimable, Resource
from studio.models.faults import Fault, FaultEvent, GivenUp, Photo
from studio.models.floors import RoomFloor
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
from studio.models.lookup import LookupStamp
from studio.models.notices import Notice
from studio.models.outbox import Posted
from studio.models.people import Leave, Person, Role, RoleHeld, WorkingHours
from studio.models.places import Room, RoomPair, Site
from studio.models.service import ServiceDone, ServicePlan
from studio.models.specs import (
    CableSpec,
    ConverterSpec,
    DynamicsSpec,
    EqualiserSpec,
    ListeningSpec,
    MainsSpec,
    StandSpec,
)
from studio.models.whereabouts import Journey, Move, Part, RoomNote, Scanned, Stay, StockTake

__all__ = [
    "CableSpec",
    "Channel",
    "Claim",
    "Claimable",
    "ConverterSpec",
    "DirectBoxSpec",
    "DynamicsSpec",
    "EqualiserSpec",
    "Fault",
    "FaultEvent",
    "GearList",
    "GearModel",
    "GearUnit",
    "GivenUp",
    "HeadingMatch",
    "Heartbeat",
    "Journey",
    "Leave",
    "ListeningSpec",
    "LookupStamp",
    "MainsSpec",
    "MicrophoneSpec",
    "Move",
    "Notice",
    "Part",
    "Person",
    "Phantom",
    "Photo",
    "Posted",
    "PreampSpec",
    "Resource",
    "Role",
    "RoleHeld",
    "Room",
    "RoomFloor",
    "RoomNote",
    "RoomPair",
    "Scanned",
    "ServiceDone",
    "ServicePlan",
    "Site",
    "StandSpec",
    "Stay",
    "Stock",
    "StockTake",
    "WorkingHours",
]
