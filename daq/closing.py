"""What is let go of at the end of a ``with``? Whatever has ``close``."""

from __future__ import annotations

from types import TracebackType
from typing import Self


class Closing:
    """Closes itself at the end of a ``with``."""

    def close(self) -> None:
        """Let go of what is held."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()
