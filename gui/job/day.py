"""Which day is meant by "2026-11-30"? One of the calendar, or one line of why it is none."""

from __future__ import annotations

from datetime import date

from strokewise.analysis.errors import InputError


def day_said(text: str, such_as: str) -> date:
    """Return a day of the calendar as it was said.

    Parameters
    ----------
    such_as : str
        An example, for whoever said none.

    Raises
    ------
    InputError
        It is none.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"“{text}” is no day of the calendar: YYYY-MM-DD, such as {such_as}"
        ) from None
