"""Who has booked what there is."""

from bookings.models.busy import BusySource
from bookings.models.calls import CallLetter
from bookings.models.feeds import Feed
from bookings.models.jobs import Client, Job
from bookings.models.kinds import SessionKind
from bookings.models.letters import HoldLetter
from bookings.models.rentals import Rental
from bookings.models.series import Series
from bookings.models.sessions import Crew, Session, SessionEntry, TakenOff

__all__ = [
    "BusySource",
    "CallLetter",
    "Client",
    "Crew",
    "Feed",
    "HoldLetter",
    "Job",
    "Rental",
    "Series",
    "Session",
    "SessionEntry",
    "SessionKind",
    "TakenOff",
]
