"""What of a photo gets into a job? Its picture, upright and scaled; nothing a camera wrote beside.

A photo of a telephone says where it was taken, and when, and by whose. All of that stays outside:
the picture is made anew from its dots. A file may also be hostile: how many bytes and how many dots
are read is limited before they are, and what cannot be read is said in one line.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strokewise.analysis.errors import InputError

if TYPE_CHECKING:
    from PIL import Image

LARGEST_PHOTO_FILE = 40 << 20
"""Bytes; a telephone's largest pictures have half of it."""
MOST_DOTS = 64_000_000
"""A telephone's usual pictures have 12 to 50 million; read whole, each dot takes three bytes."""
LONGEST_SIDE_PX = 1600
"""Of a photo kept: a mark and its pointer are read on it, larger than a sheet needs."""
PHOTO_FORMATS = ("JPEG", "PNG", "WEBP")
PHOTO_SUFFIXES = (".jpg", ".jpeg", ".png", ".webp")
QUALITY = 85
"""Of a JPEG: no flaw is seen at arm's length (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A picture without a past: a JPEG file's bytes, and its size."""

    jpeg: bytes
    width_px: int
    height_px: int


def read_photo(path: Path | str, longest_px: int = LONGEST_SIDE_PX) -> CleanPhoto:
    """Return the picture of a file.

    Raises
    ------
    InputError
        The file cannot be read, is too large, or is no picture.
    """
    try:
        with Path(path).open("rb") as stream:
            content = stream.read(LARGEST_PHOTO_FILE + 1)
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from None
    try:
        return clean_photo(content, longest_px)
    except InputError as error:
        raise InputError(f"{path}: {error}") from None


def clean_photo(content: bytes, longest_px: int = LONGEST_SIDE_PX) -> CleanPhoto:
    """Return the picture in a file's bytes, upright, no side longer than asked.

    Raises
    ------
    InputError
        It is too large, or no picture.
    """
    if len(content) > LARGEST_PHOTO_FILE:
        raise InputError(f"larger than {LARGEST_PHOTO_FILE >> 20} MB: take a smaller picture")
    try:
        from PIL import Image, ImageOps
    except ImportError:
        raise InputError("photos need Pillow; install it: pip install pillow") from None
    try:
        # Pillow's own word on size is a warning; ours, below, is a limit.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=PHOTO_FORMATS) as opened:
                width, height = opened.size
                if width * height > MOST_DOTS:
                    raise InputError(
                        f"{width} by {height} dots are more than"
                        f" {MOST_DOTS // 1_000_000} million: take a smaller picture"
                    )
                # A JPEG is read no larger than needed: a quarter of the time and memory.
                opened.draft("RGB", (longest_px, longest_px))
                return _made_anew(ImageOps.exif_transpose(opened), longest_px)
    except InputError:
        raise
    except Exception as error:  # damaged files fail in as many ways as there are formats
        raise InputError(
            "no photo that can be read (JPEG, PNG or WebP); a telephone that saves HEIC can be"
            f" set to JPEG ({type(error).__name__})"
        ) from None


def _made_anew(upright: Image.Image, longest_px: int) -> CleanPhoto:
    """Return a picture of the same dots with nothing beside them."""
    from PIL import Image

    upright.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
    clean = Image.new("RGB", upright.size, "white")  # a new one: it has no comments to hand on
    seen: Any = upright.convert("RGBA") if "A" in upright.getbands() else None
    if upright.mode == "P":
        seen = upright.convert("RGBA")
    clean.paste(upright.convert("RGB") if seen is None else seen, mask=seen)
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=QUALITY, optimize=True)
    return CleanPhoto(out.getvalue(), *clean.size)
