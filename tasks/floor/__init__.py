"""The floor plan of a session: where each source stands, and the cable from there to the wall box."""
