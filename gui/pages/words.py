"""How are figures said? Angles, shares, intervals and counts, the same on every page."""

from __future__ import annotations

from strokewise.analysis.estimate import Interval
from strokewise.analysis.samples import Health
from strokewise.gui.pages.headline import decimals_of
from strokewise.gui.sayings.saying import signed

FRAME_WORDS = (
    "Angles are crank degrees from the encoder's zero, later in the engine's own direction of "
    "turning is larger. They hold until the board restarts or the clamp is moved."
)


def sentence(text: str) -> str:
    """Return a reason or a warning with a capital and a full stop."""
    text = text.strip()
    ended = text if text.endswith((".", "!", "?")) else f"{text}."
    return ended[:1].upper() + ended[1:]


def degrees(angle_deg: float, decimals: int = 2) -> str:
    """Return an angle with its sign for degrees, ``"123.41°"``."""
    return signed(f"{angle_deg:.{decimals}f}°")


def percent(share: float) -> str:
    """Return a share of 1 in per cent; never 100 or 0 unless it is exactly that."""
    text = f"{share:.1%}"
    if text == "100.0%" and share < 1:
        return "over 99.9 %"
    if text == "0.0%" and share > 0:
        return "under 0.1 %"
    return text.replace("%", " %")


def interval_words(interval: Interval) -> str:
    """Return a value in degrees with its interval in words, no more exact than it deserves."""
    decimals = decimals_of(interval)
    value, low, high = (
        degrees(angle_deg, decimals) for angle_deg in (interval.value, interval.low, interval.high)
    )
    return f"{value}, 95 % sure to lie from {low} to {high}"


def health_words(health: Health, clipped: float) -> str:
    """Return how well the bytes came through, and how much is missing."""
    came = f"{counted(health.samples, 'sample')} in {counted(health.frames, 'frame')}"
    faults = [
        counted(number, noun, after)
        for number, noun, after in (
            (health.lost_frames, "frame", " lost"),
            (health.bad_frames, "frame", " damaged"),
            (health.unchecked_lines, "line", " without a checksum"),
            (health.missing_bytes, "byte", " missing"),
            (health.left_out, "sample", " left out"),
        )
        if number
    ]
    if health.lost_about and health.lost_frames:
        faults[0] = f"about {faults[0]}"
    if clipped > 0:
        faults.append(f"{percent(clipped)} of the readings clipped")
    if health.segments > 1:
        faults.append(f"{health.segments} separate runs of the board")
    return f"{came}; " + (", ".join(faults) if faults else "nothing lost")


def counted(number: int, noun: str, after: str = "") -> str:
    """Return a number with its noun, ``"1,013 frames"``; ``after`` is what follows the noun."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}{after}"
