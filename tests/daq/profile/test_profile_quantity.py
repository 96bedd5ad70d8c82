"""Quantities as people write them, right and wrong."""

from __future__ import annotations

import contextlib
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strokewise.analysis.errors import InputError
from strokewise.daq.profile.quantity import (
    ANGLE,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    TIME,
    Dimension,
    read_after_tdc,
    read_quantity,
    write_after_tdc,
    write_quantity,
)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("82 mm", LENGTH, 82),
        ("82mm", LENGTH, 82),
        (" 8.2e1  mm ", LENGTH, 82),
        ("+.5 mm", LENGTH, 0.5),
        ("3.228 in", LENGTH, 81.9912),
        ("3 7/32 in", LENGTH, 81.75625),
        ("3-7/32 in", LENGTH, 81.75625),
        ("7/32 in", LENGTH, 5.55625),
        ("-1 1/2 in", LENGTH, -38.1),
        ("12 thou", LENGTH, 0.3048),
        ("5 µm", LENGTH, 0.005),
        ("5 μm", LENGTH, 0.005),  # the Greek letter, as many keyboards give it
        ("6 deg", ANGLE, 6),
        ("6°", ANGLE, 6),
        ("−6 deg", ANGLE, -6),
        ("0.5 turn", ANGLE, 180),
        ("30 arcmin", ANGLE, 0.5),
        ("0.4 ms", TIME, 0.0004),
        ("-5 degC", TEMPERATURE, -5),
        ("-5 °C", TEMPERATURE, -5),
        ("14 degF", TEMPERATURE, -10),
        ("293.15 K", TEMPERATURE, 20),
        ("150 psi", PRESSURE, 10.342136),
        ("1 kgf/cm²", PRESSURE, 0.980665),
        ("1 kgf/cm2", PRESSURE, 0.980665),
        ("1 kgf/cm^2", PRESSURE, 0.980665),
        ("100 kPa", PRESSURE, 1),
    ],
)
def test_what_people_write(text: str, dimension: Dimension, value: float):
    assert read_quantity(text, dimension) == pytest.approx(value, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        (82, LENGTH, 'needs a unit, such as "82 mm"'),
        (8.2, LENGTH, 'needs a unit, such as "82 mm"'),
        ("82", LENGTH, 'needs a unit, such as "82 mm"'),
        ("", LENGTH, 'is not a length; write it like "82 mm"'),
        ("mm", LENGTH, "is not a length"),
        (None, LENGTH, "must be a length with its unit"),
        (True, LENGTH, "must be a length with its unit"),
        ("nan mm", LENGTH, "is not a length"),
        ("inf mm", LENGTH, "is not a length"),
        ("1e999 mm", LENGTH, "is not a finite quantity"),
        ("1e308 m", LENGTH, "is not a finite quantity"),
        ("0,3 mm", LENGTH, "decimal comma"),
        ("1/0 in", LENGTH, "divides by zero"),
        ("12 mil", LENGTH, 'has the unit "mil", but must be a length'),
        ("5 mm**2", LENGTH, "but must be a length"),
        ("5 mm mm", LENGTH, "unknown unit"),
        ("10**10**10 mm", LENGTH, "unknown unit"),
        ("1 mm*2**9**9", LENGTH, "unknown unit"),
        ("2 * 3 mm", LENGTH, "unknown unit"),
        ("1" * 100 + " mm", LENGTH, "is not a length"),
        ("6 %", ANGLE, "unknown unit"),
        ("6 percent", ANGLE, 'has the unit "percent", but must be an angle'),
        ("6 mm", ANGLE, "but must be an angle"),
        ("14.7 PSI", PRESSURE, 'unknown unit "PSI" (did you mean "psi"?)'),
        ("14.7 psig", PRESSURE, "say absolute or gauge"),
        ("3 delta_degC", TEMPERATURE, "unknown unit"),
        ("20 C", TEMPERATURE, 'has the unit "C", but must be a temperature, such as "20 degC"'),
    ],
)
def test_what_is_refused(text: object, dimension: Dimension, message: str):
    with pytest.raises(InputError) as caught:
        read_quantity(text, dimension)
    assert message in str(caught.value)


@settings(deadline=None)  # loading pint or a busy machine is no failure
@given(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([LENGTH, ANGLE, PRESSURE, TEMPERATURE, TIME]),
)
def test_a_written_quantity_is_read_exactly(value: float, dimension: Dimension):
    assert read_quantity(write_quantity(value, dimension), dimension) == value


@settings(deadline=None)
@given(st.text(max_size=20) | st.text("0123456789.eE+-/* mdgin²°", max_size=20))
def test_no_text_is_more_than_refused(text: str):
    """Any text is a finite length or an :class:`InputError`, and never hangs."""
    with contextlib.suppress(InputError):
        assert abs(read_quantity(text, LENGTH)) < float("inf")


@pytest.mark.parametrize(
    ("text", "after_deg"),
    [
        ("6 deg BTDC", -6),
        ("6° btdc", -6),
        ("0 deg ATDC", 0),
        ("4.5 deg ATDC", 4.5),
        ("-4 deg ATDC", -4),
        ("0 deg", 0),
        ("TDC", 0),
        ("0 deg TDC", 0),
        ("0.1 rad BTDC", -5.729578),
    ],
)
def test_angles_with_their_side_of_tdc(text: str, after_deg: float):
    assert read_after_tdc(text) == pytest.approx(after_deg, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("6 deg", "does not say whether before or after TDC"),
        ("6 deg TDC", "does not say whether before or after TDC"),
        ("6 BTDC", "needs a unit"),
        ("6", "needs a unit"),
        (6, 'write it like "6 deg BTDC"'),
        ("BTDC", "has no angle"),
        ("6 mm BTDC", "must be an angle"),
    ],
)
def test_angles_without_their_side_are_refused(text: object, message: str):
    with pytest.raises(InputError, match=message):
        read_after_tdc(text)


@settings(deadline=None)
@given(st.floats(-360, 360))
def test_a_written_angle_is_read_exactly(angle_deg: float):
    assert read_after_tdc(write_after_tdc(angle_deg)) == angle_deg


def test_our_own_units_do_not_load_pint():
    """What the recorder wrote into a header is read again without the cost of pint."""
    code = (
        "import sys; from strokewise.daq.profile.known import known_engine;"
        "known_engine(overrides=['bore=82 mm', 'static_timing.advance=6 deg BTDC']);"
        "assert 'pint' not in sys.modules; known_engine(overrides=['bore=3.2 in']);"
        "assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
