"""Who has booked what there is."""

from bookings.models.busy import BusySource
from bookings.models.feeds import Feed
from bookings.models.jobs import Client, Job
from bookings.models.letters import HoldLetter
from bookings.models.sessions import Crew, Session, SessionEntry

__all__ = ["BusySource", "Client", "Crew", "Feed", "HoldLetter", "Job", "Session", "SessionEntry"]
