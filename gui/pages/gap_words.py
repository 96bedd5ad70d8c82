"""How is a valve's gap said? What was measured, and what it asks for."""

from __future__ import annotations

from strokewise.analysis.valves.clearances import GapCheck, GapStatus
from strokewise.gui.sayings.saying import signed


def gap_words(check: GapCheck) -> str:
    """Return what was measured at one valve, and what it asks for."""
    gap = check.gap
    measured = [
        f"{name} {value:.3f} mm"
        for name, value in (
            ("found", gap.before_mm),
            ("set", gap.after_mm),
            ("nipped up", gap.nipped_mm),
        )
        if value is not None
    ]
    said = f"{', '.join(measured)}; wanted {gap.target_mm:.3f} mm"
    return f"{STATUS_WORDS[check.status]}: {judged_words(check)} ({said})"


STATUS_WORDS: dict[GapStatus, str] = {
    "not measured": "NOT MEASURED",
    "to set": "TO SET",
    "remeasure": "MEASURE AGAIN",
    "good": "GOOD",
    "out": "OUT",
    "valve not free": "NOT JUDGED",
    "place not known": "NOT JUDGED",
}


def judged_words(check: GapCheck) -> str:
    """Return what a gap asks for, or why it is not judged where the crank stands."""
    valve = check.gap.valve
    if check.status == "valve not free":
        return (
            f"{valve} is not free where the crank stands, and no gap there says anything; turn on"
            f" {check.to_go_deg:.0f}° and measure it there, or say that it is done if it was"
            " measured where it was free"
        )
    if check.status == "place not known":
        return f"where the crank stands is not known, so not whether {valve} was free there either"
    return result_words(check)


def result_words(check: GapCheck) -> str:
    """Return what the last measurement at one valve asks for, wherever it was made."""
    gap, off_mm, moved_mm = check.gap, check.off_mm, check.moved_mm
    if off_mm is None:
        return "not measured"
    too = "wide" if off_mm > 0 else "tight"
    lean = "right" if check.right else f"{abs(off_mm):.3f} mm too {too}"
    if gap.after_mm is None and gap.nipped_mm is None:
        return f"as found {lean}"
    if check.status == "remeasure":
        return f"set {lean}; nip up the locknut and measure again, that moves the screw"
    if moved_mm is None:
        return lean
    return f"{lean}; the locknut moved it by {signed(f'{moved_mm:+.3f}')} mm"
