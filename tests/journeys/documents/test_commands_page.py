"""Is the page of the commands what the parsers say? If not: run commands_page.py."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from strokewise.gui.pages import static

SCRIPT = Path(__file__).with_name("commands_page.py")


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("commands_page", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_what_the_parsers_say(writer: ModuleType) -> None:
    written = writer.PAGE.read_text("utf-8")
    assert writer.page() == written, f"run python {SCRIPT.name}"


def test_a_changed_field_would_change_the_page(
    writer: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    labels = dict(static.STEP.labels)
    labels["rim_mm"] = replace(labels["rim_mm"], help="measured round the rim")
    monkeypatch.setattr(static, "STEP", replace(static.STEP, labels=labels))
    assert "measured round the rim" in writer.page()
