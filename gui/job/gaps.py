"""Which gap is meant by "1E=0.40 mm, 0.36 mm, 0.35 mm"? As found, as set, after nipping up."""

from __future__ import annotations

from collections.abc import Sequence

from strokewise.analysis.errors import InputError
from strokewise.analysis.valves.base_circle import check_keys
from strokewise.analysis.valves.clearances import Gap, target_mm
from strokewise.daq.profile.quantity import LENGTH, read_quantity
from strokewise.gui.job.job import Job

MOST_MEASURED = 3
"""As found, as set, after nipping up."""


def gap_said(job: Job, text: str, target: str | None, *, called: str) -> Gap:
    """Return the gap that a person typed in one line.

    Parameters
    ----------
    target : str, optional
        The wanted gap, where the profile has none; it goes before the profile's.
    called : str
        What stands before the text in a complaint: the option of the command line.

    Raises
    ------
    InputError
        It is none, the engine has no such valve, or nobody said which gap is wanted.
    """
    valve, equals, values = text.partition("=")
    measured = values.split(",")
    named = f'{called}"{text}"'
    if not equals or len(measured) > MOST_MEASURED:
        raise InputError(f"{named} is not VALVE=FOUND, SET, NIPPED, such as 1E=0.40 mm")
    return gap_measured(job, valve, measured, target, named=named, give="give --target")


def gap_measured(
    job: Job,
    valve: str,
    measured: Sequence[str],
    target: str | None = None,
    *,
    named: str,
    give: str = "say which gap is wanted",
) -> Gap:
    """Return a valve's gap, with the wanted one from the job's profile.

    Parameters
    ----------
    measured : sequence of str
        As found, as set, after nipping up; empty or ``"-"`` where not measured.
    named : str
        What it is called in a complaint.
    give : str
        What to do where the profile has no figure.

    Raises
    ------
    InputError
        As of :func:`gap_said`.
    """
    key = valve.strip().upper()
    known = job.engine()
    if known.stated:
        check_keys(known.profile, [key])
    try:
        figures = [
            None if text.strip() in ("", "-") else read_quantity(text.strip(), LENGTH)
            for text in measured
        ]
        wanted = read_quantity(target, LENGTH) if target else None
    except InputError as error:
        raise InputError(f"{named}: {error}") from None
    wanted = wanted or target_mm(known.profile, "exhaust" if "E" in key else "inlet")
    if wanted is None:
        raise InputError(f"{named}: the profile has no clearance; {give}")
    before, after, nipped = [*figures, None, None, None][:MOST_MEASURED]
    return Gap(key, wanted, before, after, nipped)
