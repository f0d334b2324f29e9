"""How a long piece of work says how far it is; doors decide whether and how to show it."""

from __future__ import annotations

from typing import Protocol

__all__ = ["SILENT", "Progress"]


class Progress(Protocol):
    """Told what is being done, and which share of it is done where that is known."""

    def __call__(self, words: str, share: float | None = None) -> None:
        """Take note of "Reading cranking.csv" at a share from 0 to 1."""


def _silent(words: str, share: float | None = None) -> None:
    """Nobody looks."""


SILENT: Progress = _silent
