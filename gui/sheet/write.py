"""Where does the sheet of a job go, and how is it written? One HTML file and one PDF."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from strokewise.daq.recording.atomic import write_atomically
from strokewise.gui.found import Going
from strokewise.gui.job.job import Job
from strokewise.gui.sheet.html import sheet_html
from strokewise.gui.sheet.pdf import Paper, write_pdf
from strokewise.gui.sheet.sheet import Sheet


@dataclass(frozen=True, slots=True)
class SheetFiles:
    """The two files of a sheet."""

    html: Path
    pdf: Path


def sheet_files(job: Job, out: str | None = None) -> SheetFiles:
    """Return which files the sheet goes to: ``JOB-sheet`` beside the job, or those named."""
    folder = job.folder.resolve()
    stem = Path(out) if out else folder.with_name(f"{folder.name}-sheet")
    return SheetFiles(*(stem.with_name(stem.name + suffix) for suffix in (".html", ".pdf")))


def write_html(sheet: Sheet, files: SheetFiles) -> None:
    """Write the HTML file.

    Raises
    ------
    OSError
        The disk refuses.
    """
    write_atomically(files.html, sheet_html(sheet).encode())


def write_both(sheet: Sheet, files: SheetFiles, paper: Paper, going: Going) -> int:
    """Write both files, and return the number of the PDF's pages.

    Parameters
    ----------
    going : callable
        Told the share that is done, 0 to 1; whoever raises in it stops, and nothing is written.

    Raises
    ------
    InputError, OSError
        The disk refuses.
    """
    pages = write_pdf(sheet, files.pdf, paper, going)
    write_html(sheet, files)
    return pages
