"""A step that is added in four places is found in every surface.

The places: its subject in ``analysis`` (here the question and answer below), its page, its command,
and its line in the registry.
"""

import sys
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType

import pytest

from strokewise.analysis.profile import Profile
from strokewise.analysis.question import saying
from strokewise.analysis.verdict.found import Standing
from strokewise.gui import cli, registry
from strokewise.gui.commands.step_command import add_step
from strokewise.gui.job import ask as job_ask
from strokewise.gui.job.job import read_job
from strokewise.gui.models.steps import step_book
from strokewise.gui.models.steps.step_fields import fields_of
from strokewise.gui.pages.cautions import MANUAL_FIRST
from strokewise.gui.pages.headline import Claim
from strokewise.gui.pages.page import Facts, Page, Row, page_of
from strokewise.gui.pages.step import Figures, Label, Step
from strokewise.gui.sheet.html import sheet_html
from strokewise.gui.sheet.sheet import sheet_of

ENGINE = "cylinders = 4\nfiring_order = [1, 3, 4, 2]\n"


# 1. its subject


@dataclass(frozen=True, slots=True)
class FanQuestion:
    blades: int = saying("whole", 4)
    bent: bool = saying("tick", False)


@dataclass(frozen=True, slots=True)
class FanAnswer:
    profile: Profile
    blades: int
    bent: bool


def fan_answer(question: FanQuestion, standing: Standing) -> FanAnswer:
    return FanAnswer(standing.profile, question.blades, question.bent)


# 2. its page


def fan_page(answer: FanAnswer) -> Page:
    said, cylinders = "bent" if answer.bent else "straight", answer.profile.cylinders
    return page_of(
        "fan",
        (Claim(f"{answer.blades} BLADES, {said}."),),
        decided=not answer.bent,
        parts=(Facts((Row("Blades", f"{answer.blades} on {cylinders} cylinders"),)),),
        cautions=(MANUAL_FIRST,),
    )


def fan_figures(answer: FanAnswer) -> Figures:
    return {"blades": answer.blades}


LABELS = {"blades": Label("Blades of the fan", "how many", "N"), "bent": Label("One is bent", "so")}
STEP = Step(
    "fan",
    FanQuestion,
    fan_answer,
    fan_page,
    fan_figures,
    LABELS,
    cautions=lambda p: (MANUAL_FIRST,),
)


# 3. its command


def add_parser(subparsers):
    add_step(subparsers, "fan", example="strokewise fan --engine bench.toml --blades 5")


# 4. the registry

ENTRY = registry.StepEntry("fan", "Fan", "Is it straight?", "The fan", "crank", "toy_fan_page")


@pytest.fixture
def fan(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    for name, content in (("toy_fan_page", STEP), ("strokewise.gui.commands.fan", add_parser)):
        module = ModuleType(name)
        setattr(module, "STEP" if content is STEP else "add_parser", content)
        monkeypatch.setitem(sys.modules, name, module)
    more = (*registry.STEPS, ENTRY)
    commands = (*registry.COMMANDS, registry.Command("fan", "Look at the fan."))
    monkeypatch.setattr(registry, "STEPS", more)
    monkeypatch.setattr(registry, "COMMANDS", commands)
    profile = tmp_path / "bench.toml"
    profile.write_text(ENGINE)
    return profile


def test_the_command_line_has_it(fan: Path, capsys: pytest.CaptureFixture[str]):
    assert cli.main(["fan", "--engine", str(fan), "--blades", "5"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("5 BLADES, straight.\n\n  Blades               5 on 4 cylinders")
    assert cli.main(["fan", "--engine", str(fan), "--bent", "--json"]) == 3
    assert '"blades": 4' in capsys.readouterr().out
    with pytest.raises(SystemExit):
        cli.main(["--help"])
    assert "Look at the fan." in capsys.readouterr().out


def test_the_window_has_it(fan: Path):
    book = step_book.StepBook()
    book.turn(-1)
    assert (book.chosen, book.about.title) == ("fan", "Fan")
    assert [field.label.short for field in fields_of(book.step)] == [
        "Blades of the fan",
        "One is bent",
    ]
    assert "whole number" in book.say("blades", "many")
    assert book.say("blades", "6") == ""
    assert book.said("blades") == "6"
    book.close()


def test_the_job_and_the_sheet_have_it(fan: Path, tmp_path: Path):
    place = tmp_path / "job"
    assert cli.main(["job", "new", str(place), "--engine", str(fan)]) == 0
    assert cli.main(["job", "add", str(place), "--ask", "fan --blades 7 --bent"]) == 3
    job = read_job(place)
    [kept] = job.answers
    assert kept.asked[0] == "fan"
    assert kept.page is not None
    assert kept.page.headline == "7 BLADES, bent."
    assert job_ask.differences(job, kept) == ()
    changed = replace(kept, answer={**kept.answer, "blades": 8})
    assert job_ask.differences(job, changed) == ("blades: was 8, is 7",)
    html = sheet_html(sheet_of(job, now=datetime(2026, 1, 2, tzinfo=UTC), version="9"))
    assert "The fan: not decided" in html
    assert "7 on 4 cylinders" in html
