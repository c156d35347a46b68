"""Where things are: moves, loans and hire-out, sets and their parts, counts of a room."""
