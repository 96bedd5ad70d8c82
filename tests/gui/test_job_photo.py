"""Of a photo only the picture gets into a job and onto its sheet: upright, without a past."""

from __future__ import annotations

import base64
import io
import random
import re
import struct
import zlib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from strokewise.analysis.errors import InputError
from strokewise.gui.cli import main
from strokewise.gui.job import photo as job_photo
from strokewise.gui.job.add import add_photo, create_job, take_back
from strokewise.gui.job.job import read_job
from strokewise.gui.job.photo import LONGEST_SIDE_PX, clean_photo, read_photo
from strokewise.gui.sheet.html import sheet_html
from strokewise.gui.sheet.sheet import sheet_of

NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)
ORIENTATION, GPS, MAKER, TAKEN = 0x0112, 0x8825, 0x010F, 0x0132
SECRETS = (b"Exif", b"GPS", b"Invented Maker", b"2025:03:04", b"at home", b"http://ns.adobe.com")
RED, BLUE = (200, 20, 20), (20, 20, 200)


def telling(size=(320, 200), orientation=1, form="JPEG") -> bytes:
    """Return a picture, left half red and right half blue, that says a lot about its taking."""
    image = Image.new("RGB", size, RED)
    image.paste(BLUE, (size[0] // 2, 0, *size))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER], exif[TAKEN] = orientation, "Invented Maker", "2025:03:04 10:30"
    exif[GPS] = {1: "N", 2: (52.0, 31.0, 0.0), 3: "E", 4: (13.0, 24.0, 0.0)}
    out = io.BytesIO()
    image.save(
        out, form, exif=exif, comment=b"at home", xmp=b"http://ns.adobe.com/xap/1.0/ at home"
    )
    return out.getvalue()


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg), formats=("JPEG",))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    create_job(tmp_path / "job", "Bench four", now=NOW, version="0.1.0")
    return tmp_path / "job"


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    (tmp_path / "notch.jpg").write_bytes(telling())
    return tmp_path / "notch.jpg"


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_nothing_a_camera_wrote_is_kept(form: str):
    told = telling(form=form)
    assert any(secret in told for secret in SECRETS)
    jpeg = clean_photo(told).jpeg
    assert [secret for secret in SECRETS if secret in jpeg] == []
    assert len(opened(jpeg).getexif()) == 0
    assert set(opened(jpeg).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize(
    ("orientation", "first", "last"),
    [(1, RED, BLUE), (3, BLUE, RED), (6, RED, BLUE), (8, BLUE, RED), (2, BLUE, RED)],
)
def test_a_photo_stands_as_it_was_held(orientation: int, first, last):
    clean = clean_photo(telling(orientation=orientation))
    lies = orientation in (1, 2, 3)
    assert (clean.width_px, clean.height_px) == ((320, 200) if lies else (200, 320))
    picture = opened(clean.jpeg)
    ends = ((10, 100), (310, 100)) if lies else ((100, 10), (100, 310))
    for place, colour in zip(ends, (first, last), strict=True):
        assert picture.getpixel(place) == pytest.approx(colour, abs=12)


def test_a_large_photo_is_scaled_and_a_small_one_left():
    clean = clean_photo(telling((4000, 3000)))
    assert (clean.width_px, clean.height_px) == (LONGEST_SIDE_PX, LONGEST_SIDE_PX * 3 // 4)
    assert clean_photo(telling((320, 200))).width_px == 320


def test_what_can_be_seen_through_is_seen_on_white():
    out = io.BytesIO()
    Image.new("RGBA", (60, 60), (0, 0, 0, 0)).save(out, "PNG")
    assert opened(clean_photo(out.getvalue()).jpeg).getpixel((30, 30)) == (255, 255, 255)


def png_that_claims(width: int, height: int) -> bytes:
    """Return a PNG of a few bytes that says it is as large as this."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + crc

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + body + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(9000, 9000), (60_000, 60_000), (2_000_000, 40)])
def test_more_dots_than_a_camera_takes_are_not_read(size: tuple[int, int]):
    with pytest.raises(InputError, match=r"take a smaller picture|no photo that can be read"):
        clean_photo(png_that_claims(*size))


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"no picture at all",
        telling()[:400],
        telling(form="PNG")[:200],
        b"GIF89a" + bytes(40),
        png_that_claims(0, 10),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    ],
)
def test_what_is_no_photo_is_said_in_one_line(content: bytes):
    with pytest.raises(InputError, match="no photo that can be read") as caught:
        clean_photo(content)
    assert "\n" not in str(caught.value)


def test_a_photo_damaged_anywhere_ends_in_a_picture_or_one_line():
    dice, told = random.Random(11), telling((64, 48))
    for _ in range(300):
        damaged = bytearray(told)
        for _ in range(dice.randint(1, 12)):
            damaged[dice.randrange(len(damaged))] = dice.randrange(256)
        try:
            clean = clean_photo(bytes(damaged))
        except InputError:
            continue
        assert max(clean.width_px, clean.height_px) <= LONGEST_SIDE_PX


def test_a_file_that_is_too_large_is_not_read(photo: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(job_photo, "LARGEST_PHOTO_FILE", 100)
    with pytest.raises(InputError, match=r"notch\.jpg: larger than"):
        read_photo(photo)


def test_a_photo_stands_in_job_and_page_without_its_place(folder: Path, photo: Path):
    name = add_photo(folder, photo, "pulley notch at its pointer", now=NOW)
    assert name == "001-photo-pulley-notch-at-its-pointer.jpg"
    job = read_job(folder)
    assert job.caption_of(job.photos[0]) == "pulley notch at its pointer"
    html = sheet_html(sheet_of(job, now=NOW, version="0.1.0"))
    (shown,) = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', html)
    assert opened(base64.b64decode(shown)).size == (320, 200)
    assert "pulley notch at its pointer" in html
    assert re.findall(r'src="(?!data:)', html) == []
    assert "img-src data:" in html
    for kept in (html.encode(), *(each.read_bytes() for each in folder.glob("*.*"))):
        assert [s for s in SECRETS if s in kept and s != b"2025:03:04"] == []
    take_back(folder, 1, initials="AB", on=NOW.date())
    assert "data:image" not in sheet_html(sheet_of(read_job(folder), now=NOW, version="0.1.0"))


def test_a_hostile_photo_in_a_job_of_others_is_said_on_the_sheet(folder: Path):
    (folder / "001-photo-x.jpg").write_bytes(png_that_claims(60_000, 60_000))
    (folder / "002-photo-y.jpg").write_bytes(telling())  # one that somebody put there by hand
    sheet = sheet_of(read_job(folder), now=NOW, version="0.1.0")
    assert sheet.warnings[0].startswith("001-photo-x.jpg: ")
    assert [s for s in SECRETS if s in sheet.photos[0].picture.jpeg] == []


def test_the_command_keeps_a_photo(folder: Path, photo: Path, capsys):
    assert main(["job", "add", str(folder), "--photo", str(photo), "--shows", "notch"]) == 0
    assert capsys.readouterr().out == "kept 001-photo-notch.jpg\n"
    main(["job", "show", str(folder)])
    assert "Photo 1              notch (001-photo-notch.jpg)" in capsys.readouterr().out
    assert main(["job", "add", str(folder), "--photo", str(folder / "job.toml")]) == 2
    assert "no photo that can be read" in capsys.readouterr().err
