"""The job sheet as PDF: pages of the right paper, nothing torn, drawings not turned into pixels."""

from __future__ import annotations

import errno
import io
import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QSizeF

from strokewise.analysis.errors import InputError
from strokewise.gui.job.add import create_job
from strokewise.gui.job.job import read_job
from strokewise.gui.job.photo import CleanPhoto
from strokewise.gui.models.run.going import StoppedError
from strokewise.gui.pages.page import Facts, Row, Table
from strokewise.gui.sheet import pdf as sheet_pdf
from strokewise.gui.sheet.findings import SheetFinding
from strokewise.gui.sheet.photos import SheetPhoto
from strokewise.gui.sheet.pictures import Picture
from strokewise.gui.sheet.sheet import Sheet, sheet_of

NOW = datetime(2025, 3, 4, 10, 30, tzinfo=UTC)
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="680" height="235" viewBox="0 0 680 235">'
    '<polyline points="0,0 680,235" fill="none" stroke="#000000"/></svg>'
)


def blank(tmp_path: Path) -> Sheet:
    create_job(tmp_path / "job", "Bench four", now=NOW, version="0.1.0")
    return sheet_of(read_job(tmp_path / "job"), now=NOW, version="0.1.0")


@pytest.fixture
def full(tmp_path: Path) -> Sheet:
    """Return a sheet of many pages."""
    rows = tuple(Row(f"label {i}", "value") for i in range(9))
    table = Table("table", ("a", "b"), tuple((str(i), "x") for i in range(12)))
    finding = SheetFinding(
        "find", "Finding", True, "Reason.", (Facts(rows), table), ("careful",), "basis"
    )
    return replace(
        blank(tmp_path),
        findings=(finding,) * 6,
        pictures=tuple(Picture(f"Picture {i}", SVG, "caption") for i in range(7)),
        clearances=(table, table),
    )


def paper_of(pdf: bytes) -> tuple[int, int]:
    found = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
    assert found is not None
    return round(float(found[1])), round(float(found[2]))


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_paper_is_the_right_one(qapp, full: Sheet, tmp_path: Path, paper, points):
    pages = sheet_pdf.write_pdf(full, tmp_path / "sheet.pdf", paper)
    pdf = (tmp_path / "sheet.pdf").read_bytes()
    assert pdf.startswith(b"%PDF-")
    assert paper_of(pdf) == points
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == pages > 3


def test_it_tells_how_far_it_is_in_a_thread_of_its_own_and_is_stopped(
    qapp, full: Sheet, tmp_path: Path
):
    told: list[float] = []
    with ThreadPoolExecutor(1) as pool:
        path = tmp_path / "sheet.pdf"
        pages = pool.submit(sheet_pdf.write_pdf, full, path, "a4", told.append).result()
        assert len(told) == 1 + pages
        assert told == sorted(told)
        assert 0 == told[0] < told[-1] < 1

        def stop(share: float) -> None:
            if share > 0.7:
                raise StoppedError("enough")

        with pytest.raises(StoppedError):
            pool.submit(sheet_pdf.write_pdf, full, tmp_path / "no.pdf", "a4", stop).result()
    assert not (tmp_path / "no.pdf").exists()


def test_drawings_stay_drawings(qapp, full: Sheet, tmp_path: Path):
    sheet_pdf.write_pdf(full, tmp_path / "sheet.pdf")
    assert b"/Subtype /Image" not in (tmp_path / "sheet.pdf").read_bytes()


@pytest.mark.parametrize("size", [QSizeF(680, 983), QSizeF(702, 915)])
def test_nothing_that_fits_on_a_page_is_torn(qapp, full: Sheet, size: QSizeF):
    document, keep = sheet_pdf._document(full, size)
    groups = [(each.top, each.bottom) for each in sheet_pdf._groups(document)]
    assert len(groups) > 15
    for top, bottom in groups:
        fits = bottom - top <= size.height()
        assert not fits or top // size.height() == (bottom - 1) // size.height()
    del document, keep


LEAST_FILLED = 0.6
"""Of each page but the last; where three wide drawings do not fit, two take so much."""


@pytest.mark.parametrize("size", [QSizeF(680, 983), QSizeF(702, 915)])
def test_no_page_stays_half_empty(qapp, full: Sheet, size: QSizeF):
    document, keep = sheet_pdf._document(full, size)
    layout = document.documentLayout()
    ends = [0.0] * document.pageCount()
    block = document.begin()
    while block.isValid():
        box = layout.blockBoundingRect(block)
        if block.text().strip():
            number = int(box.top() // size.height())
            ends[number] = max(ends[number], box.bottom() - number * size.height())
        block = block.next()
    assert len(ends) > 3
    assert min(ends[:-1]) > LEAST_FILLED * size.height(), ends
    del document, keep


def test_the_signature_comes_last_and_the_cautions_before_what_is_to_do(qapp, full: Sheet):
    document, keep = sheet_pdf._document(full, QSizeF(680, 983))
    said = document.toPlainText()
    order = ["Cautions", "Still to do, and done", "What was not checked", "Signature"]
    assert sorted(order, key=said.rindex) == order
    del document, keep


def test_a_photo_is_printed_in_its_column(qapp, full: Sheet, tmp_path: Path):
    out = io.BytesIO()
    Image.new("RGB", (800, 600), "gray").save(out, "JPEG")
    photo = SheetPhoto(CleanPhoto(out.getvalue(), 800, 600), "pulley notch")
    sheet_pdf.write_pdf(replace(full, photos=(photo,) * 3), tmp_path / "sheet.pdf")
    assert b"/Subtype /Image" in (tmp_path / "sheet.pdf").read_bytes()
    size = QSizeF(680, 983)
    document, keep = sheet_pdf._document(replace(full, photos=(photo,) * 3), size)
    assert "pulley notch" in document.toPlainText()
    form = document.begin().charFormat()
    form.setProperty(keep.which, len(full.pictures))
    wide = keep.intrinsicSize(document, 0, form)
    assert wide.width() <= 0.5 * size.width()
    assert wide.width() / wide.height() == pytest.approx(800 / 600)
    del document, keep


def test_a_drawing_has_its_place(qapp, full: Sheet):
    document, keep = sheet_pdf._document(full, QSizeF(680, 983))
    assert document.toPlainText().count("\N{OBJECT REPLACEMENT CHARACTER}") == len(full.pictures)
    taken = [each.bottom - each.top for each in sheet_pdf._groups(document)]
    assert max(taken) > 235
    del document, keep


def test_a_folder_that_is_not_there_is_one_line_with_the_name_of_the_file(
    qapp, full: Sheet, tmp_path: Path, capfd: pytest.CaptureFixture[str]
):
    path = tmp_path / "none" / "sheet.pdf"
    with pytest.raises(InputError) as caught:
        sheet_pdf.write_pdf(full, path)
    assert str(caught.value) == (
        f"{path}: the PDF cannot be written there: No such file or directory"
    )
    assert capfd.readouterr().err == ""  # Qt said a line of its own


def test_a_disk_that_refuses_leaves_the_old_sheet_whole(
    qapp, full: Sheet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(b"%PDF- the old one")

    def refuse(file: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(InputError, match=r"sheet\.pdf: the PDF cannot be written there"):
        sheet_pdf.write_pdf(full, path)
    assert path.read_bytes() == b"%PDF- the old one"
    assert list(tmp_path.glob("*.part")) == list(tmp_path.glob(".*.part")) == []


def test_the_command_needs_no_screen(tmp_path: Path):
    blank(tmp_path)
    surroundings = {
        name: value
        for name, value in os.environ.items()
        if name not in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY")
    }
    done = subprocess.run(
        [sys.executable, "-m", "strokewise.gui", "sheet", str(tmp_path / "job")],
        env=surroundings,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert re.search(r"job-sheet\.pdf, \d pages", done.stdout)
    assert (tmp_path / "job-sheet.pdf").read_bytes().startswith(b"%PDF-")
