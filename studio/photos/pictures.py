"""Pictures as they come from a phone, made safe to keep: bounded, upright, without what the camera wrote. Pure."""

from __future__ import annotations

import io
import warnings

from PIL import Image, ImageOps

MOST_BYTES = 15_000_000
MOST_PIXELS = 60_000_000
LONGEST_SIDE = 1600
FORMATS = ("JPEG", "PNG", "WEBP")


class NotAPicture(ValueError):
    """What was sent can't be taken; the message is a sentence that says what to do."""


def cleaned(data: bytes) -> bytes:
    """The picture as a JPEG of its own, at most LONGEST_SIDE wide and high. Only its pixels are kept.

    Raises NotAPicture for what is too large, no picture, or of a kind that isn't taken.
    """
    if len(data) > MOST_BYTES:
        raise NotAPicture(f"The picture is over {MOST_BYTES // 1_000_000} MB. Send a smaller one.")
    try:
        with warnings.catch_warnings(action="ignore"):  # of damage in what the camera wrote, which isn't kept
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            return _as_jpeg(data)
    except NotAPicture:
        raise
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise NotAPicture("The picture has too many pixels. Send a smaller one.") from None
    except Exception:  # a damaged file makes its readers fail in any way there is
        raise NotAPicture("That is no picture that can be read. Send a JPEG, PNG or WebP.") from None


def _as_jpeg(data: bytes) -> bytes:
    with Image.open(io.BytesIO(data), formats=FORMATS) as image:
        if image.width * image.height > MOST_PIXELS:
            raise NotAPicture("The picture has too many pixels. Send a smaller one.")
        image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        upright = ImageOps.exif_transpose(image).convert("RGB")
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    kept, plain = io.BytesIO(), Image.new("RGB", upright.size)
    plain.paste(upright)
    plain.save(kept, "JPEG", quality=82)
    return kept.getvalue()
