"""How the session is to be recorded, for the reckoning of storage."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms

from bookings.models import Session
from tasks.papers.storage import DEPTHS_BITS, RATES_HZ, Recording


class RecordingForm(forms.Form):
    """Every field has a usual value, so that the page reckons before anything is typed."""

    tracks = forms.IntegerField(label="Tracks", min_value=1, max_value=512)
    rate = forms.TypedChoiceField(
        label="Sample rate", coerce=int, choices=[(rate, f"{rate / 1000:g} kHz") for rate in RATES_HZ]
    )
    depth = forms.TypedChoiceField(
        label="Depth", coerce=int, choices=[(depth, f"{depth} bit") for depth in DEPTHS_BITS]
    )
    hours = forms.FloatField(label="Hours that the recorder rolls", min_value=0.1, max_value=400)
    takes = forms.FloatField(label="Times over, for takes that are kept", min_value=1, max_value=100)
    copies = forms.IntegerField(label="Copies in all", min_value=1, max_value=9)

    def __init__(self, data: Any, *, session: Session, tracks: int) -> None:
        length: timedelta = session.end - session.downbeat
        usual = {
            "tracks": max(tracks, 1),
            "rate": 48_000,
            "depth": 24,
            "hours": round(min(length.total_seconds() / 3600, 400), 1),
            "takes": 1,
            "copies": 3,
        }
        super().__init__({name: data.get(name, value) for name, value in usual.items()})

    def recording(self) -> Recording | None:
        """None while something typed makes no sense; the form says what."""
        if not self.is_valid():
            return None
        said = self.cleaned_data
        return Recording(
            tracks=said["tracks"],
            rate_hz=said["rate"],
            depth_bits=said["depth"],
            hours=said["hours"],
            takes=said["takes"],
            copies=said["copies"],
        )
