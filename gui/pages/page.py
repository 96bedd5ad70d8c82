"""What stands on the page of an answer? A plain value, made once and shown in several ways.

:mod:`strokewise.gui.pages.text` prints it in 80 columns, the window sets it in large type, the job
sheet makes HTML and PDF of it. None of them reads what another wrote.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from strokewise.analysis.remark import Notice
from strokewise.gui.pages.cautions import Caution
from strokewise.gui.pages.headline import NOTHING_DENIED, Claim, Ground, allowed_sign, denied, held
from strokewise.gui.pages.sign import NOT_SURE, SURE, Sign
from strokewise.gui.sayings import Told, told

BEFORE_NEXT = "Before the next step"


@dataclass(frozen=True, slots=True)
class Row:
    """One labelled fact.

    Attributes
    ----------
    known : bool
        False where the text says that something is not known, or only assumed.
    columns : tuple of tuple of str
        Lines of short words below the text, set in columns: heads and figures in turn.
    """

    label: str
    text: str
    known: bool = True
    columns: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Facts:
    """Labelled facts under a heading, or under none."""

    rows: tuple[Row, ...]
    heading: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph under a heading, or under none."""

    text: str
    heading: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Figures in columns; a narrow page shows the same as facts.

    Attributes
    ----------
    narrow : Facts or None
        What stands instead where there is no room for columns; None where the table is all.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    narrow: Facts | None = None


Part = Facts | Text | Table


def facts_of(part: Facts | Table) -> Facts:
    """Return a part as labelled facts; a table that has none names its rows by its first column."""
    if isinstance(part, Facts):
        return part
    if part.narrow is not None:
        return part.narrow
    rows = (
        Row(first, "; ".join(f"{h}: {w}" for h, w in zip(part.heads[1:], rest, strict=True) if w))
        for first, *rest in part.rows
    )
    return Facts(tuple(rows), part.title)


def words_of(row: Row) -> str:
    """Return a fact's text with its columns in one line, each pair of lines belonging together."""
    lines = row.columns
    pairs = [
        f"{head}: {words}"
        for heads, below in zip(lines[::2], lines[1::2], strict=True)
        for head, words in zip(heads, below, strict=True)
    ]
    return "; ".join((row.text, *pairs)) if pairs else row.text


@dataclass(frozen=True, slots=True)
class Page:
    """All that is said of one answer.

    Attributes
    ----------
    step : str
        Whose answer it is, by the name of its command.
    decided : bool
        There is an answer to act on.
    headline : str
        The sentences that a person came for.
    reason : str
        Why it is so; or why not, and what to do next.
    parts : tuple of Facts, Text or Table
        In the order in which they are read.
    foot : tuple of Text
        What to know of the figures; below the warnings.
    pictures : tuple of str
        Names of what is drawn beside it.
    next_look : str
        What would tell more; empty where nothing would.
    """

    step: str
    decided: bool
    headline: str
    sign: Sign
    reason: str
    parts: tuple[Part, ...] = ()
    warnings: tuple[Told, ...] = ()
    cautions: tuple[Caution, ...] = ()
    cautions_heading: str = BEFORE_NEXT
    foot: tuple[Text, ...] = ()
    pictures: tuple[str, ...] = field(default=())
    next_look: str = ""


def page_of(
    step: str,
    claims: tuple[Claim, ...],
    *,
    decided: bool,
    reason: str = "",
    sign: Sign | None = None,
    parts: tuple[Part, ...] = (),
    warnings: tuple[Notice, ...] = (),
    cautions: tuple[Caution, ...] = (),
    cautions_heading: str = BEFORE_NEXT,
    foot: tuple[Text, ...] = (),
    pictures: tuple[str, ...] = (),
    next_look: str = "",
    ground: Ground = NOTHING_DENIED,
) -> Page:
    """Return a page whose headline and sign keep the rule of :mod:`~strokewise.gui.pages.headline`.

    Parameters
    ----------
    claims : tuple of Claim
        What the headline says.
    reason : str, optional
        Left out, the headline is the reason.
    sign : Sign, optional
        Left out, it follows ``decided``.
    ground : Ground, optional
        What the headline must not contradict.

    Raises
    ------
    HeadlineError
        It does: such a page cannot be made.
    """
    doubts = denied(warnings) if decided else ()
    head = held((*doubts, *claims), ground, decided=decided)
    worn = sign if sign is not None and decided else SURE if decided else NOT_SURE
    return Page(
        step=step,
        decided=decided,
        headline=head,
        sign=allowed_sign(worn, warnings),
        reason=reason or head,
        parts=tuple(part for part in parts if not _is_empty(part)),
        warnings=told(warnings),
        cautions=cautions,
        cautions_heading=cautions_heading,
        foot=foot,
        pictures=pictures,
        next_look=next_look,
    )


def _is_empty(part: Part) -> bool:
    return not part.text if isinstance(part, Text) else not part.rows
