"""Okabe-Ito seen by colour-blind eyes.

Simulated after Machado, G. M., Oliveira, M. M. & Fernandes, L. A. F. (2009), "A
Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE TVCG 15(6), 1291-1298.
"""

import itertools

import numpy as np
import pytest

from strokewise.gui.models.palette import (
    BLACK,
    BLUE,
    DARK,
    GREEN,
    LEAST_OF_PLOT,
    LIGHT,
    ORANGE,
    PURPLE,
    SKY,
    STROKES,
    VERMILION,
    YELLOW,
    contrast,
    faded,
)

OKABE_ITO = (BLACK, ORANGE, SKY, GREEN, YELLOW, BLUE, VERMILION, PURPLE)

# Their matrices of severity 1.0, on linear RGB. The authors' own table was not at hand: recalled,
# and compared digit by digit with the copy of it in the PyPI package colorspacious 1.1.2.
MACHADO = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
SEEN_APART = 12.0
"""CIE76 distance; 2.3 is just noticeable side by side, and five times that from two metres."""


def linear(colour):
    c = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    ) @ np.clip(rgb, 0, 1)
    t = xyz / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def seen(colour, eye):
    return lab(linear(colour) if eye == "normal" else np.array(MACHADO[eye]) @ linear(colour))


def test_the_simulation_itself_keeps_grey_grey():
    for eye in MACHADO:
        assert np.abs(seen("#808080", eye) - seen("#808080", "normal")).max() < 1.0


def test_the_simulation_itself_confuses_red_and_green():
    normal = np.linalg.norm(seen("#A05030", "normal") - seen("#607030", "normal"))
    deutan = np.linalg.norm(seen("#A05030", "deutan") - seen("#607030", "deutan"))
    assert deutan < normal / 3


@pytest.mark.parametrize("eye", ["normal", *MACHADO])
def test_the_four_strokes_are_told_apart(eye):
    names = ("power", "exhaust", "intake", "compression")
    for one, other in itertools.combinations(names, 2):
        apart = np.linalg.norm(seen(STROKES[one].colour, eye) - seen(STROKES[other].colour, eye))
        assert apart > SEEN_APART, (eye, one, other, apart)


@pytest.mark.parametrize("eye", ["normal", *MACHADO])
@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_curves_are_told_apart(palette, eye):
    for one, other in itertools.combinations(palette.curves, 2):
        assert np.linalg.norm(seen(one, eye) - seen(other, eye)) > SEEN_APART, (eye, one, other)


def test_strokes_that_touch_differ_in_hatching_too():
    cycle = ("power", "exhaust", "intake", "compression", "power")
    for one, other in itertools.pairwise(cycle):
        assert STROKES[one].hatch != STROKES[other].hatch


def test_words_stand_out_from_what_they_stand_on():
    for palette in (LIGHT, DARK):
        for ground in (palette.paper, palette.sheet):
            assert contrast(palette.ink, ground) > 7  # WCAG 2.1, level AAA
            for colour in (palette.faint, palette.warning, palette.target, *palette.curves):
                assert contrast(colour, ground) > 4.5, (palette.theme, colour)  # level AA
        for fill in palette.strokes.values():
            assert contrast(fill.ink, fill.colour) > 7


def test_contrast_is_that_of_the_guideline():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)  # WCAG's own example


def test_the_signal_colours_are_okabe_and_itos():
    assert {
        STROKES["power"].colour,
        STROKES["intake"].colour,
        STROKES["compression"].colour,
    } <= set(OKABE_ITO)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_older_curves_fade_and_are_still_seen(palette):
    for ground in (palette.paper, palette.sheet, "#FFFFFF"):
        for colour in palette.curves:
            if contrast(colour, ground) < LEAST_OF_PLOT:  # a dark theme's curve on white paper
                continue
            steps = [contrast(faded(colour, ground, share), ground) for share in (0, 0.15, 0.5, 1)]
            assert min(steps) >= LEAST_OF_PLOT
            assert steps == sorted(steps)
            assert faded(colour, ground, 1.0) == colour


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_signs_of_a_plot_stand_out(palette):
    for ground in (palette.paper, palette.sheet):
        for colour in (palette.now, palette.target, palette.inlet, palette.exhaust):
            assert contrast(colour, ground) >= LEAST_OF_PLOT
