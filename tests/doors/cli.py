"""Run the command line in this process, as a person would from a terminal."""

from __future__ import annotations

import contextlib
import io
import re
from dataclasses import dataclass

import pytest

from witnessmark.cli.main import main

PROGRESS = re.compile(r"( so far\.| %\.| s left\.)$")


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what it wrote where."""

    code: int
    out: str
    err: str

    @property
    def told(self) -> str:
        """Standard error without the lines on progress, which only a slow machine sees."""
        return "".join(line for line in self.err.splitlines(keepends=True) if not PROGRESS.search(line))


def run(*arguments: str) -> Ran:
    """Run ``witnessmark ARGUMENTS``."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
        main(list(arguments))
    return Ran(int(left.value.code or 0), out.getvalue(), err.getvalue())
