"""How does every page of the window look? In three sizes and both themes, on one sheet.

``make pictures`` runs it: ``python tests/benchmarks/pictures/contact_sheet.py OUT.png``. The
recording is one of the shipped ones, played to its end, so that every page has its answer.
"""

import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import time
from pathlib import Path

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from strokewise.gui.models.keys import VIEWS
from strokewise.gui.models.run.sources import open_replay
from strokewise.gui.models.setup.settings import Settings
from strokewise.gui.registry import window_steps
from strokewise.gui.window.launch import application
from strokewise.gui.window.workbench import Workbench

RECORDING = Path(__file__).resolve().parents[3] / "recordings" / "cranked.swr"
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


def pages(app, window):
    """Show every page of a window in turn, and yield its picture."""
    for name, _ in VIEWS[:-1]:
        window.show_view(name)
        app.processEvents()
        yield window.grab().toImage()
    for step in window_steps():
        page = window.rooms.show_step(step.name)
        live(app, lambda page=page: page.answered, 20.0)
        live(app, lambda: False, SETTLES_S)
        yield window.grab().toImage()
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


def main(out):
    """Draw the sheet into a file."""
    app = application()
    rows = []
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
            thumbs = [
                image.scaledToWidth(THUMB_WIDTH, Qt.TransformationMode.SmoothTransformation)
                for image in pages(app, window)
            ]
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
    main(sys.argv[1] if len(sys.argv) > 1 else "contact-sheet.png")
