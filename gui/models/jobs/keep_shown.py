"""How do recordings and answers of the window get into a job? Read whole, and asked again.

A window's answer is of a moment; a job keeps what can be computed again: the recording is copied
into it, and the same step with all that was said to it is asked about the whole of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from strokewise.analysis.valves.clearances import GapCheck
from strokewise.daq.recording.read import open_recording
from strokewise.gui.found import Going
from strokewise.gui.job.add import add_answer, add_gaps, add_recording
from strokewise.gui.job.ask import answer_request, request_for
from strokewise.gui.job.job import read_job
from strokewise.gui.steps import step_named, words_from_typed
from strokewise.gui.typed import Typed


@dataclass(frozen=True, slots=True)
class Shown:
    """What was asked in the window.

    Attributes
    ----------
    files : tuple of Path
        The recordings that it is about.
    oiled : tuple of Path
        Of the compressions compared, those measured again with oil.
    typed : mapping
        What was said to the step.
    gaps : tuple of GapCheck
        Gaps that were said and judged where the crank stood.
    """

    step: str
    files: tuple[Path, ...]
    typed: Typed
    oiled: tuple[Path, ...] = ()
    gaps: tuple[GapCheck, ...] = ()


def take_recordings(folder: Path, paths: Sequence[str], going: Going) -> str:
    """Put recordings into a job, and no answer; return what there is to say.

    Raises
    ------
    StrokewiseError
        One cannot be read, the job refuses, or it was stopped: nothing is put in then.
    """

    def gone(number: int, share: float) -> None:
        going((number + share) / len(paths))

    for number, path in enumerate(paths):  # what is no recording does not get into the job
        open_recording(path, partial(gone, number))
    return f"Kept {', '.join(add_recording(folder, each).name for each in paths)}"


def keep_shown(folder: Path, shown: Shown, now: datetime, going: Going) -> str:
    """Keep the recordings, the answer about them and the gaps said with it; return what it says.

    Raises
    ------
    StrokewiseError
        A recording cannot be read, or the job or the step refuses.
    """
    recordings = [add_recording(folder, file) for file in shown.files]
    typed = dict(shown.typed)
    if shown.oiled:
        typed["wet"] = [add_recording(folder, file).name for file in shown.oiled]
    job = read_job(folder)
    words = words_from_typed(step_named(shown.step), typed)
    request = request_for(job, shown.step, recordings, (), words)
    said = answer_request(folder, request, going)
    name = add_answer(
        folder,
        request.words,
        said.json,
        recordings=recordings,
        profile=request.engine,
        now=now,
        page=said.page,
    )
    left_out = [check.gap.valve for check in shown.gaps if not check.judged]
    if fit := [check.gap for check in shown.gaps if check.judged]:
        add_gaps(folder, fit)
    without = f". Not kept, as their valves were not free: {', '.join(left_out)}" * bool(left_out)
    return f"Kept {name}, about the whole recording: {said.page.headline}{without}"
