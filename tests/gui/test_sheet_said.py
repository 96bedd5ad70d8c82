"""What the sheet says of single answers, row by row."""

from __future__ import annotations

from strokewise.gui.sheet.said import SAID


def angle(value: float) -> dict[str, float]:
    return {"value": value, "low": value - 0.2, "high": value + 0.2}


COMPARE = {
    "decided": True,
    "reason": "cylinder 2 is low",
    "warnings": [],
    "version": "0.1.0",
    "cylinders": [
        {
            "cylinder": 2,
            "measured_bar": angle(8.9),
            "corrected_bar": angle(8.8),
            "below_best": 0.3909,
            "speed_rpm": 201.1,
            "passes": 7,
            "passes_to_peak": 1,
            "leak_mm2": None,
        }
    ],
    "spread": {"value": 0.391, "low": 0.386, "high": 0.398},
    "odd": None,
    "at": {"speed_rpm": 195.6, "atmosphere": "1.013 bar"},
    "findings": [{"code": "x", "cylinders": [2], "suggests": "leaks", "confirm": "leak-down test"}],
    "oiled": [],
}


def test_compared_compressions_say_what_would_confirm_them():
    rows, [peaks, suggested] = SAID["compare"](COMPARE)
    assert peaks.title == "Absolute peaks, made comparable at 196 rev/min, 1.013 bar"
    assert peaks.rows == (("2", "8.9 (8.7 to 9.1)", "8.8 (8.6 to 9.0)", "39.1 %", "1"),)
    assert suggested.rows == (("2", "Leaks.", "Leak-down test."),)
    assert [(row.label, row.value) for row in rows] == [("Spread", "39.1 % (38.6 % to 39.8 %)")]


def test_a_strobe_says_its_reason_once():
    text = "the readings are 7.0° over"
    strobe = {"text": text, "readings": [{"speed_rpm": 700, "before_tdc": 13, "excess": 7}]}
    static = {"reason": text, "cylinder": 1, "advance": {"before_tdc": 6.0}, "strobe": strobe}
    rows, [readings] = SAID["static"](static)
    assert "Strobe" not in [row.label for row in rows]
    assert readings.rows == (("700", "13", "7"),)
    rows, _ = SAID["static"](static | {"reason": "no angle"})
    assert [row.value for row in rows if row.label == "Strobe"] == [text]


def test_a_drive_that_turns_the_other_way_has_no_sign_and_a_direction():
    mesh = {"start": 28.1, "end": 340.0, "turn": -48.1, "turn_teeth": -1.74, "tooth": 27.7}
    mesh |= {"direction": "counter-clockwise", "tooth_crank": 55.4}
    rows, _ = SAID["drive"]({"meshing": mesh, "leads": []})
    words = {row.label: row.value for row in rows}
    assert words["Going in it turns"] == "48.1° counter-clockwise (1.74 teeth)"


FOUND = {
    "tdc": {"angle": 1.0, "low": 0.9, "high": 1.1, "cylinder": 1, "method": "fit", "passes": 1},
    "phase": {"probability": 0.9, "candidates": []},
    "health": {"samples": 9, "lost_frames": 0, "bad_frames": 0, "segments": 1},
}


def test_what_the_fit_tells_beside_tdc_stands_there():
    beside = {"leak_hole_mm": {"value": 0.846, "low": 0.591, "high": 1.21}, "loss_angle": None}
    words = {row.label: row.value for row in SAID["find"](FOUND | {"diagnostics": beside})[0]}
    assert words["Leaks like a hole of"] == "0.85 mm (0.59 to 1.21)"
    assert "Peak before TDC by" not in words
    assert words["Method"].endswith(", 1 compression")


def test_nought_has_no_sign():
    shift = {"value": -0.01, "low": -0.04, "high": 0.02}
    rows, _ = SAID["cam"]({"shift": shift})
    assert [row.value for row in rows] == ["0.0° (0.0° to 0.0°)"]
