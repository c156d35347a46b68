"""What the layers to the right of this one listen to.

session_changed(session, change, moved) is sent inside the transaction that makes the change: change is
"booked", "changed", "ran on" (only its end is later, while it runs), "one of many" (booked or
changed at once: what takes long comes later) or "cancelled"; moved says whether room, times or crew are others than
before.
"""

from django.dispatch import Signal

session_changed = Signal()
