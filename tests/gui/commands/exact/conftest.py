"""What a command prints and answers, taken apart so that a test can ask for every word of it.

A figure with its side turned round, or a caution left out, hurts somebody. So pages are asked for
whole: the text, the warnings, the cautions in their order, and every word of each caution.
"""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from suite_engines import BENCH

from strokewise.gui import cli, found
from strokewise.gui.options import SaidOfEngine

# Word for word, once more: whoever changes a caution changes it here too, and thinks twice.
CAUTIONS = {
    "First of all": "The engine maker's manual, local codes and licensed practice come before"
    " anything said here.",
    "Turning the engine by hand": "Ignition off, battery disconnected, out of gear, vehicle"
    " chocked. Take the spanner off the crank before anything else happens. Keep hands clear of"
    " belts, fan and pulleys: a cylinder under compression can turn the engine by itself.",
    "Timing not proven (a rebuild, or a moved cam drive)": "Pistons may meet valves. Turn the"
    " engine two full turns by hand, slowly. Stop at any resistance and find its cause; never force"
    " it. Only then use the starter.",
    "Moving the cam drive": "A cam on the wrong tooth bends valves. Hold the engine maker's marks,"
    " locking tools and order of work above these figures. After any change turn the engine two"
    " full turns by hand, slowly, and stop at any resistance; then record and measure again before"
    " the starter is used.",
    "Cranking with the starter": "Clear people, tools, leads and clothing of everything that turns."
    " Secure the encoder and its cable. Crank in short bursts and let the starter cool.",
    "Ignition and fuel live": "Disable ignition and injection before cranking with a plug out: mist"
    " from the open hole catches fire from a spark, and a coil that sparks into nothing can kill or"
    " be destroyed. Ventilate, extinguisher at hand.",
    "Hose and hot parts": (
        "A hose that lets go under pressure whips: tie it down at both ends and keep your face out"
        " of its line. Let a warm engine cool, or lay hose and cables clear of manifold and"
        " exhaust."
    ),
    "Pressure in the plug hole": "The sensor and hose must be rated above the engine's compression,"
    " screwed home, and never loosened while the engine turns. Keep your face out of line with the"
    " hole. Diesel compression needs an adapter made for it.",
    "Turning back": "Turn back only past the play, then come up again in the engine's own"
    " direction, so that the chain, belt and gears are taut on the side they run on.",
    "Turning back, nobody said": "Nobody said whether this engine may be turned back: a ratchet"
    " tensioner, a belt or a left-hand bolt can jump or come loose. Until the manual says so, go"
    " round again instead.",
    "Never turn back": "The profile forbids turning this engine backwards. If you have gone too"
    " far, go round again: two full turns bring the same stroke back.",
    "Piston stop in the plug hole": "By hand only, never with the starter. Come up to the stop"
    " gently from both sides: it can mark a piston or bend a valve. Take it out before the engine"
    " is turned on.",
    "Drive gear in": "Ignition off and the crank left where it is while the gear goes in. See that"
    " the gear is home and the oil pump's tongue engaged before the engine is cranked: without oil"
    " pressure it is ruined in seconds.",
    "Engine running under a strobe": "Moving parts look still under the lamp. Out of gear, chocked,"
    " exhaust led outside. Keep hands, hair, leads and clothing clear of fan, belts and pulleys,"
    " and off the ignition leads.",
    "Oil in a cylinder, air into a cylinder": "A spoonful of oil and no more: liquid does not give"
    " way under a piston. Air let into a cylinder turns the engine: nothing and nobody near fan,"
    " belts or the spanner.",
}
LABEL_WIDTH = 21
HEADINGS = ("Before the next step", "Before anything is moved")


@dataclass(frozen=True)
class Page:
    """A printed answer: what stands above warnings and cautions, and these, unwrapped."""

    body: str
    warnings: list[str]
    cautions: list[str]

    @property
    def plain(self) -> str:
        """The body on one line, every run of blanks as one."""
        return " ".join(self.body.split())

    @property
    def facts(self) -> dict[str, str]:
        """The labelled facts, unwrapped; two blanks part a label from what is said."""
        found: dict[str, str] = {}
        label = ""
        for line in self.body.splitlines():
            if line.startswith(" " * (LABEL_WIDTH + 2)) and label:
                found[label] += " " + line.strip()
            elif line.startswith("  "):
                label, _, text = line.strip().partition("  ")
                found[label] = text.strip()
            else:
                label = ""
        return found


def listed(block: str, bullet: str) -> list[str]:
    """Return the points of a list under a heading, each on one line."""
    points: list[str] = []
    for line in block.splitlines()[1:]:
        if line.startswith(f"  {bullet} "):
            points.append(line[4:])
        else:
            points[-1] += " " + line.strip()
    return points


def named(caution: str) -> str:
    """Return which caution it is, once every word of it is as it should be."""
    for name, text in CAUTIONS.items():
        if caution == f"{name.removesuffix(', nobody said')}: {text}":
            return name
    raise AssertionError(f"a caution in other words: {caution}")


def page_of(text: str) -> Page:
    blocks = text.rstrip("\n").split("\n\n")
    warnings: list[str] = []
    cautions: list[str] = []
    if blocks[-1].startswith(HEADINGS):
        cautions = [named(point) for point in listed(blocks.pop(), "-")]
    if warned := [block for block in blocks if block.startswith("Warnings\n")]:
        [block] = warned
        blocks.remove(block)
        warnings = listed(block, "!")
    return Page("\n\n".join(blocks), warnings, cautions)


@pytest.fixture
def page(capsys: pytest.CaptureFixture[str]) -> Callable[..., Page]:
    """Return what a command prints, taken apart."""

    def ask(*words: str | Path, code: int = 0) -> Page:
        assert cli.main([str(word) for word in words]) == code
        return page_of(capsys.readouterr().out)

    return ask


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Callable[..., dict[str, Any]]:
    """Return the one JSON object that a command answers with."""

    def ask(*words: str | Path, code: int = 0) -> dict[str, Any]:
        assert cli.main([*(str(word) for word in words), "--json"]) == code
        [line] = capsys.readouterr().out.splitlines()
        answer: dict[str, Any] = json.loads(line)
        return answer

    return ask


@pytest.fixture
def engine(tmp_path: Path) -> Callable[..., str]:
    """Return the bench engine's profile as a file, with words of it exchanged."""

    def write(*exchanged: tuple[str, str]) -> str:
        text = BENCH
        for old, new in exchanged:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "bench.toml"
        path.write_text(text)
        return str(path)

    return write


@pytest.fixture(scope="session")
def found_toy(tmp_path_factory: pytest.TempPathFactory, toy: Any) -> found.Found:
    """The toy engine, found once: its sensor is in cylinder 3, half a turn after cylinder 1."""
    file = toy.write(tmp_path_factory.mktemp("toy") / "toy.swr", toy.sent(toy.frames()))
    return found.found_in(file, SaidOfEngine())


NUMBER = re.compile(r"([+-]?)(\d[\d,]*)(?:\.(\d+))?")


@pytest.fixture(scope="session")
def reads() -> Callable[[str, str], None]:
    """Return what asserts that a text reads as expected: every word, sign and decimal.

    Its figures may differ by one in the last place: those expected were rounded once before.
    """

    def same(said: str, expected: str) -> None:
        assert NUMBER.sub(r"\1#", said) == NUMBER.sub(r"\1#", expected)
        pairs = zip(NUMBER.finditer(said), NUMBER.finditer(expected), strict=True)
        for one, other in pairs:
            decimals = len(one[3] or "")
            assert decimals == len(other[3] or ""), f"{one[0]} for {other[0]} in {said}"
            apart = abs(float(one[0].replace(",", "")) - float(other[0].replace(",", "")))
            assert apart < 1.1 * 10**-decimals, f"{one[0]} for {other[0]} in {said}"

    return same


@pytest.fixture(scope="session")
def sentence() -> Callable[[str], str]:
    """Return what makes a reason a sentence: a capital and a full stop."""
    return lambda text: text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
