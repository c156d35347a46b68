"""How much a session writes: bytes, file sizes, and when a file of one kind is full. Pure.

Linear PCM, headers ignored. GB is 10^9 byte, as drives are sold by. The limit of a RIFF/WAVE file is the 32-bit size
field of its chunks (EBU Tech 3306, 2007); files with 64-bit sizes (RF64, BW64: ITU-R BS.2088) have none that matters.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

RIFF_LIMIT_BYTES = 2**32
RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
DEPTHS_BITS = (16, 24, 32)


@dataclass(frozen=True, slots=True)
class Recording:
    """takes: how many times the hours are recorded anew and kept; copies counts the first one too."""

    tracks: int
    rate_hz: int
    depth_bits: int
    hours: float
    takes: float = 1.0
    copies: int = 3

    @property
    def bytes_a_track_hour(self) -> int:
        return self.rate_hz * self.depth_bits // 8 * 3600

    @property
    def gigabytes(self) -> float:
        """One copy of everything, GB."""
        return self.tracks * self.bytes_a_track_hour * self.hours * self.takes / 1e9

    @property
    def gigabytes_with_copies(self) -> float:
        return self.gigabytes * self.copies

    def until_full(self, channels: int = 1) -> timedelta:
        """How long one file with so many channels goes on before it reaches the limit of RIFF/WAVE."""
        a_second = self.rate_hz * self.depth_bits // 8 * channels
        return timedelta(seconds=RIFF_LIMIT_BYTES / a_second)

    @property
    def needs_long_files(self) -> bool:
        """Whether a mono file that runs through all of the hours outgrows RIFF/WAVE."""
        return timedelta(hours=self.hours) > self.until_full()


def clock(length: timedelta) -> str:
    """Like “8:17” for hours and minutes, the started minute left out."""
    minutes = int(length.total_seconds()) // 60
    return f"{minutes // 60}:{minutes % 60:02}"
