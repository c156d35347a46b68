"""Prevention: what is done to gear by days, by hours of use, or before a session; on the bench, never on a session."""
