"""People's hours: what a call does to their rest, usual hours, leave and appointments elsewhere."""

from bookings.people.warnings import rest_broken_by, shortened_by, warnings_for

__all__ = ["rest_broken_by", "shortened_by", "warnings_for"]
