"""How far a long piece of work is, on standard error, for whatever takes over a second."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import TextIO

__all__ = ["ProgressLine"]

_QUIET_S = 1.0  # what is over sooner is not spoken of
_EVERY_S = 0.5
_PLAIN_EVERY_S = 5.0  # where a line cannot be written over, fewer of them
_LEAST_SHARE = 0.05  # below which the seconds left are anybody's guess


class ProgressLine:
    """A line that says what is being done: written over on a terminal, added now and then elsewhere.

    Called with what is being done, and which share of it is done where that is known.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._over = self._stream.isatty()
        self._start = self._since = time.monotonic()
        self._words = ""
        self._share: float | None = None
        self._width = 0
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __call__(self, words: str, share: float | None = None) -> None:
        """Take note of what is being done."""
        if words != self._words:
            self._since = time.monotonic()
        self._words, self._share = words, share

    def __enter__(self) -> ProgressLine:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._done.set()
        self._thread.join()
        if self._width:
            self._write("\r" + " " * self._width + "\r")

    def _watch(self) -> None:
        if self._done.wait(_QUIET_S):
            return
        while True:
            self._show()
            if self._done.wait(_EVERY_S if self._over else _PLAIN_EVERY_S):
                return

    def _show(self) -> None:
        line = self.line()
        if not line:
            return
        if self._over:
            padded = line.ljust(self._width)
            self._width = len(line)
            self._write("\r" + padded)
        else:
            self._write(line + "\n")

    def line(self) -> str:
        """What is being done, in a sentence; empty where nothing was said yet."""
        if not self._words:
            return ""
        now = time.monotonic()
        if self._share is None:
            return f"{self._words} … {now - self._start:.0f} s so far."
        text = f"{self._words}: {100 * self._share:.0f} %"
        if self._share < _LEAST_SHARE:
            return text + "."
        left = (now - self._since) * (1.0 - self._share) / self._share
        return f"{text}, about {left:.0f} s left."

    def _write(self, text: str) -> None:
        try:
            self._stream.write(text)
            self._stream.flush()
        except (OSError, ValueError):  # nobody listens any more; the work goes on
            self._done.set()
