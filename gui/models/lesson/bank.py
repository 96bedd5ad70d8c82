"""Which questions come with the program? A set for a course, from easy to hard."""

from __future__ import annotations

from strokewise.analysis.errors import InputError
from strokewise.gui.models.lesson.lesson import TWO_GROUPS, Lesson, LessonItem

_COUNT_ON = "Find the compression under the sensor, then count on by the firing order"

BANK: tuple[LessonItem, ...] = (
    LessonItem("firing", "cranked", notes=_COUNT_ON),
    LessonItem("firing", "hand-turned", notes="By hand: slower, lower peaks, the same strokes"),
    LessonItem("fault", "cranked", notes="All well is an answer too"),
    LessonItem("fault", "dead-cylinder"),
    LessonItem("firing", "six", notes=f"{_COUNT_ON}; two strokes overlap by 60°"),
    LessonItem("fault", "worn-rings", notes="Tell it from one leaking valve by the speed"),
    LessonItem("fault", "burnt-valve", notes="The other cylinders brake the crank as before"),
    LessonItem("firing", "single", notes="None fires for three strokes of four"),
    LessonItem("fault", "cam-tooth-late", notes="The marks' places are given: which moved?"),
    LessonItem("fault", "pulley-ring-slipped", notes="Only the pulley's mark is out"),
    LessonItem("firing", "v-twin", notes="The intervals are uneven: 405° and 315°"),
    LessonItem("fault", "throttle-shut", notes="Look at the pressure before the compression"),
    LessonItem("fault", "tired-battery", notes="Speed first, pressure second"),
    LessonItem("firing", "eight", notes=f"{_COUNT_ON}; two fire at a time"),
    LessonItem("fault", "liquid-in-cylinder", notes="Never by the starter: it bends rods"),
    LessonItem("fault", "hose-valve-left-in", notes="A mistake of the rig, not of the engine"),
    LessonItem("firing", "diesel", notes="A higher ratio: the peak is sharper and higher"),
    LessonItem("fault", "cam-tooth-early"),
    LessonItem("fault", "hum-and-noise", notes="A fault of the wire: what would you mend first?"),
    LessonItem("fault", "clamp-slipped", notes="Compare the first compressions with the last"),
    LessonItem("firing", "run-down", notes="Nobody drives it: the speed falls all the way"),
    LessonItem("fault", "cam-mark-at-overlap", notes="Why a mark alone does not tell the stroke"),
    LessonItem("fault", "valve-without-clearance", notes="Alike on the trace: what parts them?"),
    LessonItem("fault", "sensor-drifts", notes="The engine is well: what moves?"),
    LessonItem("fault", "pulley-mark-wrong"),
    LessonItem("firing", "cranked-plugs-out", notes="Fast and even: the strokes are the same"),
    LessonItem("fault", "counts-lost", notes="Hard: TDC wanders a little with every turn"),
    LessonItem("fault", "clamp-off-centre", notes="Hard: look at the speed"),
)  # fmt: skip
"""The shipped questions. None has a seed: every session draws its own traces."""
QUESTIONS_IN_NEW = 10


def new_lesson(count: int = QUESTIONS_IN_NEW, groups: tuple[str, ...] = TWO_GROUPS) -> Lesson:
    """Return a class of the first so many questions of the bank.

    Raises
    ------
    InputError
        For more than there are.
    """
    if not 0 < count <= len(BANK):
        raise InputError(f"{count} questions; the bank has {len(BANK)}")
    return Lesson("Who fires, and what is wrong", BANK[:count], groups, limit_s=120.0)
