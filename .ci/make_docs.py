#!/usr/bin/env python3
"""Build the reference of the public names into build/docs; every warning is an error.

The pages of the rooms and of their packages are written anew each time: a package's docstring is
its guide, and what its ``__all__`` names follows with its own words and examples.
"""

from __future__ import annotations

import shutil
from importlib import import_module
from pathlib import Path

from sphinx.cmd.build import main

ROOT = Path(__file__).resolve().parents[1]
SOURCE, OUT = ROOT / "build" / "docs-source", ROOT / "build" / "docs"
ROOMS = ("analysis", "daq", "gui")

CONF = """
project = "strokewise"
extensions = ["sphinx.ext.autodoc", "numpydoc"]
default_role = None
templates_path = []
html_theme = "alabaster"
html_theme_options = {"page_width": "1100px", "description": "the public names, with examples"}
html_copy_source = False
autodoc_member_order = "bysource"
autodoc_typehints = "none"
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False
"""


def packages(room: str) -> list[str]:
    """Return a room and the packages within it, by the names they are imported by."""
    found = sorted(path.parent for path in (ROOT / room).rglob("__init__.py"))
    return [".".join(("strokewise", *path.relative_to(ROOT).parts)) for path in found]


def page(package: str) -> str:
    """Return a package's page: its guide, then each of its public names."""
    parts = [package, "=" * len(package), "", f".. automodule:: {package}", "   :no-members:", ""]
    for name in getattr(import_module(package), "__all__", ()):
        thing = getattr(import_module(package), name)
        home = getattr(thing, "__module__", None)
        if home is None or not home.startswith("strokewise."):
            continue
        kind = "autoclass" if isinstance(thing, type) else "autofunction"
        parts += [name, "-" * len(name), "", f".. {kind}:: {home}.{name}"]
        parts += ["   :members:", ""] if kind == "autoclass" else [""]
    return "\n".join(parts)


def write() -> None:
    """Write the pages."""
    shutil.rmtree(SOURCE, ignore_errors=True)
    SOURCE.mkdir(parents=True)
    (SOURCE / "conf.py").write_text(CONF, encoding="utf-8")
    named = [name for room in ROOMS for name in packages(room) if ".window" not in name]
    for name in named:
        (SOURCE / f"{name}.rst").write_text(page(name), encoding="utf-8")
    lines = ["strokewise", "==========", "", ".. toctree::", "   :maxdepth: 1", ""]
    lines += [f"   {name}" for name in named]
    (SOURCE / "index.rst").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write()
    raise SystemExit(main(["-W", "--keep-going", "-q", "-b", "html", str(SOURCE), str(OUT)]))
