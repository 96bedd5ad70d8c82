"""What is said when a thread of ours fails? One line; neither hidden nor the end of a recording."""

from __future__ import annotations

from strokewise.analysis.errors import StrokewiseError


def fault_words(what: str, error: BaseException) -> str:
    """Return what failed and how; an error that a person can mend speaks for itself."""
    if isinstance(error, StrokewiseError | OSError):
        return str(error)
    return f"{what} failed ({type(error).__name__}: {error}); please report"
