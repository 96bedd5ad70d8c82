"""Which gap is meant by "1E=0.40 mm, 0.36 mm, 0.35 mm"? As found, as set, after nipping up."""

from __future__ import annotations

from strokewise.analysis.errors import InputError
from strokewise.analysis.valves.base_circle import check_keys
from strokewise.analysis.valves.clearances import Gap, target_mm
from strokewise.daq.profile.quantity import LENGTH, read_quantity
from strokewise.gui.job.job import Job

MOST_MEASURED = 3
"""As found, as set, after nipping up."""


def gap_said(job: Job, text: str, target: str | None = None, *, called: str = "") -> Gap:
    """Return the gap that a person said, with the wanted one from the job's profile.

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
    valve = valve.strip().upper()
    parts = [part.strip() for part in values.split(",")]
    if not equals or len(parts) > MOST_MEASURED:
        raise InputError(f'{called}"{text}" is not VALVE=FOUND, SET, NIPPED, such as 1E=0.40 mm')
    known = job.engine()
    if known.stated:
        check_keys(known.profile, [valve])
    try:
        measured = [None if p in ("", "-") else read_quantity(p, LENGTH) for p in parts]
        wanted = read_quantity(target, LENGTH) if target else None
    except InputError as error:
        raise InputError(f'{called}"{text}": {error}') from None
    wanted = wanted or target_mm(known.profile, "exhaust" if "E" in valve else "inlet")
    if wanted is None:
        give = "give --target" if called else "say which gap is wanted"
        raise InputError(f'{called}"{text}": the profile has no clearance; {give}')
    before, after, nipped = [*measured, None, None, None][:MOST_MEASURED]
    return Gap(valve, wanted, before, after, nipped)
