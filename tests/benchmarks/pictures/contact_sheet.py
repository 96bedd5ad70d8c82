"""How does every page of the window look? In three sizes and both themes, on one sheet.

``make pictures`` runs it: ``python tests/benchmarks/pictures/contact_sheet.py OUT.png``. The
recording is one of the shipped ones, played to its end, so that every page has its answer; the job
is an invented one. With a folder after it every page is put there, too, as large as it is.
"""

import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import tempfile
import time
from datetime import UTC, date, datetime
from pathlib import Path

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from strokewise.analysis.valves.clearances import Gap
from strokewise.gui.found import unwatched
from strokewise.gui.job.add import (
    add_gaps,
    add_note,
    add_photo,
    add_torque,
    create_job,
    tick_task,
)
from strokewise.gui.models.jobs.keep_shown import Shown, keep_shown
from strokewise.gui.models.keys import VIEWS
from strokewise.gui.models.run.sources import open_deck, open_replay
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.registry import window_steps
from strokewise.gui.window.launch import application
from strokewise.gui.window.workbench import Workbench

RECORDINGS = Path(__file__).resolve().parents[3] / "recordings"
RECORDING, OTHER = RECORDINGS / "cranked.swr", RECORDINGS / "rocked.swr"
OTHER_CRANKED = RECORDINGS / "marks-that-lie.swr"
CONTACT_SIZES = ((1366, 768), (1280, 800), (1920, 1080))
THUMB_WIDTH, CONTACT_GAP = 300, 6
PATIENCE_S = 120.0
SETTLES_S = 0.1
"""A page whose answer is there at once has its fields laid out after so long."""


def live(app, until, patience_s=PATIENCE_S):
    """Let the window live until something is true."""
    end = time.monotonic() + patience_s
    while not until() and time.monotonic() < end:
        app.processEvents()
        time.sleep(0.01)


def filled_job(folder):
    """Make an invented job with something in each of its parts."""
    now, who = datetime(2026, 3, 4, 10, 30, tzinfo=UTC), {"initials": "AB", "on": date(2026, 3, 4)}
    create_job(folder, "Bench four", now=now, version="0.1.0", made_for="a club")
    keep_shown(folder, Shown("find", (RECORDING,), {}), now, unwatched)
    tick_task(folder, "oil-rockers", **who)
    add_gaps(folder, [Gap("1E", 0.35, 0.40, 0.36, 0.35), Gap("1I", 0.30, 0.38)])
    add_torque(folder, "Head bolts", "40 N m + 90 deg", tool="wrench 7", note="oiled", **who)
    add_note(folder, "No. 2 plug thread repaired with an insert, 14 mm", now=now)
    photo = QImage(800, 600, QImage.Format.Format_RGB32)
    photo.fill(QColor("#707880"))
    photo.save(str(folder.with_name("notch.jpg")))
    add_photo(folder, folder.with_name("notch.jpg"), "pulley notch at its pointer", now=now)


def job_pages(app, window, folder):
    """Show the job's page without a job, then each of its parts."""
    window.show_page("job")
    app.processEvents()
    yield window.grab().toImage()
    desk = window.rooms.desk
    desk.open(str(folder / "job.toml"))
    desk.page.show_who("AB")
    desk.page.notes.lines.setCurrentRow(1)
    for row in range(desk.page.list.count()):
        desk.page.list.setCurrentRow(row)
        live(app, lambda: False, SETTLES_S)
        yield window.grab().toImage()


def laid_over(app, window):
    """Lay another recording over this one, and a healthy trace behind both."""
    window.laid = window.laid.with_other(open_deck(OTHER).subject_at_end(OTHER.name))
    window.actions_.toggle_healthy()
    live(app, lambda: window.laid.healthy is not None)
    for view in ("overlay", "angle"):
        window.show_view(view)
        app.processEvents()
        yield window.grab().toImage()


def compared(app, window):
    """Compare two recordings, as if of two cylinders, and show how they lie over each other."""
    page = window.rooms.show_step("compare")
    page.form.take_files([str(RECORDING), str(OTHER_CRANKED)])
    page.book.say("cylinders", "1,3")
    page.look()
    live(app, lambda: page.answered and page.view.drawing, 60.0)
    live(app, lambda: False, SETTLES_S)
    return window.grab().toImage()


def pages(app, window, job):
    """Show every page of a window in turn, and yield its picture."""
    for name, _ in VIEWS[:-1]:
        window.show_view(name)
        app.processEvents()
        yield window.grab().toImage()
    yield from laid_over(app, window)
    yield from job_pages(app, window, job)
    for step in window_steps():
        page = window.rooms.show_step(step.name)
        live(app, lambda page=page: page.answered, 20.0)
        live(app, lambda: False, SETTLES_S)
        yield window.grab().toImage()
    yield compared(app, window)
    window.rooms.classroom  # noqa: B018 - loaded here, its page comes at once
    for name in ("setup", "class"):
        window.show_page(name)
        app.processEvents()
        yield window.grab().toImage()
    window.show_view("chart")
    for show in (window.actions_.show_keys, window.actions_.show_cautions):
        show()
        app.processEvents()
        yield window.grab().toImage()
        window.panel.dismiss()


def main(out, whole=None):
    """Draw the sheet into a file, and every page into a folder."""
    app = application()
    rows = []
    job = Path(tempfile.mkdtemp()) / "bench-four"
    filled_job(job)
    for size in CONTACT_SIZES:
        for theme in ("light", "dark"):
            run = open_replay(str(RECORDING))
            window = Workbench(run, Settings(theme=theme))
            window.resize(*size)
            window.show()
            run.seek(3.6)
            window.begin()
            live(app, lambda window=window: window.snapshot.link.state == "ended")
            live(app, lambda run=run: not run.judging)
            window.redraw()
            thumbs = []
            for number, image in enumerate(pages(app, window, job), start=1):
                if whole is not None:
                    Path(whole).mkdir(parents=True, exist_ok=True)
                    image.save(f"{whole}/{size[0]}-{theme}-{number:02}.png")
                thumbs.append(
                    image.scaledToWidth(THUMB_WIDTH, Qt.TransformationMode.SmoothTransformation)
                )
            rows.append(thumbs)
            window.close()
            print(f"{size[0]}x{size[1]} {theme}: {len(thumbs)} pages")
    wide = max(len(row) for row in rows) * (THUMB_WIDTH + CONTACT_GAP) + CONTACT_GAP
    high = sum(row[0].height() + CONTACT_GAP for row in rows) + CONTACT_GAP
    sheet = QImage(wide, high, QImage.Format.Format_RGB32)
    sheet.fill(QColor("#808080"))
    painter = QPainter(sheet)
    top = CONTACT_GAP
    for row in rows:
        for i, thumb in enumerate(row):
            left = CONTACT_GAP + i * (THUMB_WIDTH + CONTACT_GAP)
            painter.drawImage(QRect(left, top, thumb.width(), thumb.height()), thumb)
        top += row[0].height() + CONTACT_GAP
    painter.end()
    assert sheet.save(out), out
    print(f"{out}: {wide}x{high}")


if __name__ == "__main__":
    main(*(sys.argv[1:] or ["contact-sheet.png"]))
