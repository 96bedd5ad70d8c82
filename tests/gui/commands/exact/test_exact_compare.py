"""``strokewise compare``, every word of it: the sound cylinder named odd is taken apart for it."""

from types import SimpleNamespace

import pytest

from strokewise.analysis.compression.cylinder_compression import CylinderCompression
from strokewise.analysis.estimate import Interval
from strokewise.analysis.profile import Atmosphere
from strokewise.gui import compressions

STEP = [
    "Oil in a cylinder, air into a cylinder",
    "Ignition and fuel live",
    "Pressure in the plug hole",
    "Cranking with the starter",
    "First of all",
]
NO_DIAGNOSIS = "What figures suggest is no diagnosis: confirm before anything is taken apart."
ALIKE = (
    "Alike is not the same as good: a late cam or a shut throttle lowers all of them together; the"
    " engine maker's figure tells."
)
SAID = [
    word
    for name in ("throttle-open", "plugs-out", "decompressor-off", "battery-good", "warm")
    for word in (f"--{name}", "yes")
]


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """Recordings of cylinders 1 to 4 at the standard air and one speed, and what is in each."""
    box = SimpleNamespace(peaks={"a": 12.0, "b": 12.2, "c": 7.5, "d": 12.1}, rpm=200.0, needed={})

    def measured_in(file, said, cylinder):
        peak = box.peaks[file.stem]
        number = cylinder or "abcd".index(file.stem) + 1
        return (
            CylinderCompression(
                number,
                Interval(peak, peak - 0.1, peak + 0.1),
                box.rpm,
                Atmosphere(),
                6,
                passes_to_peak=box.needed.get(file.stem, 2),
                leak_mm2=Interval(0.4, 0.2, 0.8),
            ),
            (),
        )

    monkeypatch.setattr(compressions, "measured_in", measured_in)
    files = [tmp_path / f"{name}.swr" for name in box.peaks]
    for file in files:
        file.touch()
    box.files = files
    return box


def test_the_whole_page(bench, page):
    """Best 12.2 bar; cylinder 3 lies 1 - 7.5/12.2 below it, and 38 % below the other three."""
    said = page("compare", *bench.files, *SAID)
    assert said.plain.startswith(
        "Cylinder 3: 38.0 % below the others (36.9 to 39.1): suggests a valve held open or leaking,"
        " rings, or the gasket. Cylinder 1 12.0 bar"
    )
    assert said.plain.endswith(NO_DIAGNOSIS)
    found = said.facts
    measured = "measured {0:.1f} bar at 200 rev/min, 6 compressions, reached after 2; leaks like a"
    for number, peak, below in ((1, 12.0, "1.6 %"), (2, 12.2, "0.0 %"), (4, 12.1, "0.8 %")):
        assert found[f"Cylinder {number}"] == (
            f"{peak:.1f} bar ({peak - 0.1:.1f} to {peak + 0.1:.1f}) absolute, {below} below the"
            f" best; {measured.format(peak)} hole of 0.4 (0.2 to 0.8) mm²"
        )
    assert found["Spread"].startswith("38.5 % (")
    assert found["Spread"].endswith("; under 10 % is usually called good")
    assert found["Most different"].startswith("cylinder 3, 38.0 % below the mean of the others (3")
    assert found["Most different"].endswith("): stands out")
    assert "not" not in found["Most different"]
    assert found["Compared at"] == "200 rev/min and 1.013 bar"
    assert "7.5 bar (7.4 to 7.6) absolute, 38.5 % below the best" in said.plain
    assert found["Cylinder 3"] == (  # its finding stands last
        "38.0 % below the others (36.9 to 39.1): suggests a valve held open or leaking, rings, or"
        " the gasket. To confirm: valve clearance first, then the same cylinder again with a"
        " spoonful of oil, then a leak-down test"
    )
    assert (said.warnings, said.cautions) == ([], STEP)


def test_the_same_to_a_program(bench, told):
    answer = told("compare", *bench.files, *SAID)
    assert (answer["decided"], answer["warnings"]) == (True, [])
    below = [one["below_best"] for one in answer["cylinders"]]
    assert below == [0.0164, 0.0, 0.3852, 0.0082]
    odd = answer["odd"]
    assert (odd["cylinder"], odd["stands_out"]) == (3, True)
    assert odd["share"]["value"] == pytest.approx(7.5 / 12.1 - 1, abs=1e-3)
    assert odd["share"]["low"] < odd["share"]["value"] < odd["share"]["high"] < -0.3
    assert answer["spread"]["value"] == pytest.approx(1 - 7.5 / 12.2, abs=1e-3)
    assert [finding["code"] for finding in answer["findings"]] == ["one-low"]


def test_alike_does_not_stand_out(bench, page, told):
    bench.peaks["c"] = 11.7
    said = page("compare", *bench.files, *SAID)
    assert said.plain.startswith("The cylinders agree within 5.2 %. Cylinder 1 12.0 bar")
    assert said.facts["Most different"].startswith(
        "cylinder 3, 3.3 % below the mean of the others ("
    )
    assert said.facts["Most different"].endswith("): does not stand out")
    assert (said.warnings, said.cautions) == ([ALIKE], STEP)
    assert told("compare", *bench.files, *SAID)["odd"]["stands_out"] is False


def test_a_high_one_is_not_said_to_be_low(bench, page):
    bench.peaks["c"] = 15.0
    said = page("compare", *bench.files, *SAID)
    finding = (
        "24.0 % above the others (22.7 to 25.3): suggests carbon or oil in the chamber, or another"
        " piston or sensor fit"
    )
    assert said.plain.startswith(f"Cylinder 3: {finding}. Cylinder 1 12.0 bar")
    assert said.facts["Cylinder 3"] == (
        f"{finding}. To confirm: the same sensor in another cylinder; then look into the chamber"
    )
    assert said.facts["Most different"].startswith(
        "cylinder 3, 24.0 % above the mean of the others (2"
    )
    assert said.cautions == STEP


def test_neighbours_oil_and_slow_to_build(bench, page, tmp_path):
    bench.peaks |= {"b": 7.4, "oiled": 10.6}
    bench.needed = {"d": 5}
    wet = ("--wet", tmp_path / "oiled.swr", "--wet-cylinders", "3")
    said = page("compare", *bench.files, *SAID, *wet)
    assert said.plain.startswith(
        "Cylinder 2 and 3: two neighbours are low: suggests the head gasket between them, if they"
        " sit side by side. Cylinder 1"
    )
    assert said.facts["Cylinders 2 and 3"] == (
        "two neighbours are low: suggests the head gasket between them, if they sit side by side."
        " To confirm: a leak-down test: listen for air in the neighbour's plug hole"
    )
    assert said.facts["Cylinder 4"] == (
        "took 5 passes to its peak, the others 2: suggests a leak it outruns. To confirm: the same"
        " cylinder again with a spoonful of oil, then a leak-down test"
    )
    assert said.facts["Cylinder 3"].startswith("with oil it stood 41.3 % higher (3")
    assert said.facts["Cylinder 3"].endswith(
        "): suggests that it leaks past the rings. To confirm: a leak-down test: listen for air at"
        " the oil filler"
    )
    assert said.cautions == STEP
    bench.peaks["oiled"] = 6.9
    said = page("compare", *bench.files, *SAID, *wet)
    assert said.facts["Cylinder 3"].startswith("with oil it stood 8.0 % lower (")
    assert "): does not point to the rings; if it is low, look at valves" in said.plain


def test_what_nobody_said_and_what_was_said_otherwise(bench, page):
    bench.peaks["c"] = 11.7
    assert page("compare", *bench.files).warnings == [
        "Nobody said: throttle held open?",
        "Nobody said: all plugs out?",
        "Nobody said: decompressor off?",
        "Nobody said: battery good?",
        "Nobody said: engine warm?",
        ALIKE,
    ]
    no = ["no" if word == "yes" else word for word in SAID]
    assert page("compare", *bench.files, *no).warnings == [
        "Measured without: throttle held open.",
        "Measured without: all plugs out.",
        "Measured without: decompressor off.",
        "Measured without: battery good.",
        ALIKE,
    ]


def test_turned_too_slowly(bench, page):
    bench.rpm = 40.0
    said = page("compare", *bench.files, *SAID, code=3)
    assert said.plain.startswith(
        "NOT SURE. Turned too slowly to compare compressions: crank with the starter. Cylinder 1"
    )
    assert said.warnings == [
        "Turned at 40 rev/min: so slowly a sound cylinder leaks and cools much of its pressure"
        " away, and peaks say little; crank with the starter."
    ]
    assert said.cautions == STEP
