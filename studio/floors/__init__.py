"""The floor of a room: outline, wall boxes, doors, windows and what never moves."""
