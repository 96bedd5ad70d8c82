"""Stands in front of the real package while the tests run with --no-qt."""

raise ModuleNotFoundError("Qt is made absent by --no-qt", name="pyqtgraph")
