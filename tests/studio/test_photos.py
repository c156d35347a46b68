"""Photos are bounded, upright and bare of what the camera wrote, and handed out to who is signed in."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from studio.models import Fault, Photo, Role
from studio.photos.pictures import LONGEST_SIDE, MOST_BYTES, NotAPicture, cleaned
from tests.house import make_mic, make_person

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F


def camera(width: int = 80, height: int = 40, orientation: int = 6) -> bytes:
    """A JPEG with the left half dark, that says where it was taken and that it lies on its side."""
    image = Image.new("RGB", (width, height), "white")
    image.paste("black", (0, 0, width // 2, height))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER] = orientation, "Camera of somebody"
    exif.get_ifd(GPS)[1] = "N"
    kept = io.BytesIO()
    image.save(kept, "JPEG", exif=exif, comment=b"Camera of somebody")
    return kept.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims to be so large (PNG specification, 11.2.2 IHDR)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


def test_only_pixels_are_kept_and_they_stand_upright() -> None:
    """Orientation 6: the row 0 of the file is the right side of the picture (Exif 2.32, 4.6.4, tag 0x0112)."""
    sent = camera()
    assert b"Camera of somebody" in sent
    kept = cleaned(sent)
    assert b"Camera" not in kept
    with Image.open(io.BytesIO(kept)) as image:
        assert (image.format, image.size) == ("JPEG", (40, 80))
        assert not dict(image.getexif())
        assert "comment" not in image.info
        assert image.getpixel((20, 5))[0] < 40
        assert image.getpixel((20, 75))[0] > 215


def test_a_large_picture_is_made_smaller() -> None:
    with Image.open(io.BytesIO(cleaned(camera(4000, 1000, 1)))) as image:
        assert image.size == (LONGEST_SIDE, 400)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no picture"),
        (b"%PDF-1.7 hello", "no picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "no picture"),
        (camera()[:200], "no picture"),
        (bomb(30_000, 30_000), "too many pixels"),
        (bomb(9_000, 9_000), "too many pixels"),
        (b"x" * (MOST_BYTES + 1), "over 15 MB"),
    ],
)
def test_what_is_no_picture_or_too_much_of_one_gets_a_sentence(data: bytes, words: str) -> None:
    with pytest.raises(NotAPicture, match=words):
        cleaned(data)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 400), st.binary(max_size=8))
def test_any_damage_gives_a_picture_or_a_sentence(place: int, noise: bytes) -> None:
    sent = camera()
    try:
        kept = cleaned(sent[:place] + noise + sent[place + len(noise) :])
    except NotAPicture:
        return
    assert kept.startswith(b"\xff\xd8")


@pytest.mark.django_db
def test_a_photo_comes_with_the_report_and_is_shown_to_who_is_signed_in() -> None:
    client, mic = Client(), make_mic("R-02")
    client.force_login(make_person(Role.ASSISTANT))
    photo = SimpleUploadedFile("../../etc/x.php", camera(), content_type="text/html")
    answer = client.post("/gear/R-02", {"effect": "crackles", "photo": photo})
    assert answer.status_code == 302
    kept = Photo.objects.get()
    assert kept.fault == Fault.objects.get(unit=mic)
    assert Path(kept.image.name).suffix == ".jpg"
    assert ".." not in kept.image.name
    assert f"/photos/{kept.pk}" in client.get("/gear/R-02").content.decode()
    shown = client.get(f"/photos/{kept.pk}")
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert Client().get(f"/photos/{kept.pk}").status_code == 302
    Path(kept.image.path).unlink()
    assert client.get(f"/photos/{kept.pk}").status_code == 404


@pytest.mark.django_db
def test_what_is_no_photo_keeps_the_report_as_typed() -> None:
    client = Client()
    make_mic("R-02")
    client.force_login(make_person(Role.ASSISTANT))
    sent = SimpleUploadedFile("notes.txt", b"hello")
    page = client.post("/gear/R-02", {"effect": "crackles", "words": "in the lead", "photo": sent})
    assert page.status_code == 422
    assert "That is no picture that can be read." in page.content.decode()
    assert "in the lead" in page.content.decode()
    assert not Fault.objects.exists()
