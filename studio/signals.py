"""What the layers to the right of this one listen to.

gear_state_changed(unit, fault, given_up) is sent inside the transaction that makes the change: a fault was
reported, got worse or better, was given another return date, or was mended. given_up is a list of
(origin_type_id, origin_id) of the bookings whose claims on the unit or its channels had to make room for a
repair; it is empty where nothing had to. A receiver that raises undoes the change.
"""

from django.dispatch import Signal

gear_state_changed = Signal()

# changed_at_once(fields) is sent by the class of what a queryset's update() has changed, with the names it gave.
changed_at_once = Signal()

# house_changed(thing) is sent inside the transaction that saves a room, a gear model, a unit or stock under
# House. A receiver that raises studio.claims.Conflict refuses the change: what stands in the way is shown.
house_changed = Signal()
