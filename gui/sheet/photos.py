"""Which photos stand on the sheet, and how large? Each read anew: a job may come from anywhere."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from strokewise.analysis.errors import InputError
from strokewise.gui.job.job import Job
from strokewise.gui.job.photo import CleanPhoto, read_photo

SHEET_PHOTO_PX = 1000
"""Longest side: two stand side by side, each 85 mm wide, at 300 dots to the inch."""


@dataclass(frozen=True, slots=True)
class SheetPhoto:
    """A photo on the sheet."""

    picture: CleanPhoto
    caption: str

    @property
    def address(self) -> str:
        """The picture itself, as an address within the page."""
        return "data:image/jpeg;base64," + base64.b64encode(self.picture.jpeg).decode()


def sheet_photos(job: Job) -> tuple[tuple[SheetPhoto, ...], tuple[str, ...]]:
    """Return the job's photos, and a line for each that cannot be shown."""
    photos, trouble = [], []
    for photo in job.photos:
        try:
            picture = read_photo(job.folder / photo.name, SHEET_PHOTO_PX)
        except InputError as error:
            trouble.append(str(error).replace(str(job.folder / photo.name), photo.name))
            continue
        photos.append(SheetPhoto(picture, job.caption_of(photo)))
    return tuple(photos), tuple(trouble)
