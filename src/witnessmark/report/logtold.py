"""What the vehicle told in a stored conversation, beside its values: codes, monitors, on-board tests."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.reported import Reported
from witnessmark.engine.types import Engine
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.report.notes import KEEP_CODES
from witnessmark.report.readings import CodeRow, TestRow, code_rows, ready_lines, test_rows
from witnessmark.report.words import counted

__all__ = ["LogTold", "log_told"]


@dataclass(frozen=True, slots=True)
class LogTold:
    """What was told, as rows; ``short`` counts them and is empty where nothing was."""

    codes: tuple[CodeRow, ...]
    ready: tuple[str, ...]
    tests: tuple[TestRow, ...]

    @property
    def code_notes(self) -> tuple[str, ...]:
        """What stands beside the codes."""
        return (KEEP_CODES,) if self.codes else ()

    @property
    def short(self) -> str:
        """How many of what."""
        counts = [
            counted(len(rows), name) for rows, name in ((self.codes, "code"), (self.tests, "on-board test")) if rows
        ]
        return ", ".join(counts) or ("monitors" if self.ready else "")


def log_told(measured: LogMeasurement, engine: Engine, reported: Reported) -> LogTold:
    """What the vehicle told, ready to be shown.

    Parameters
    ----------
    measured : LogMeasurement
        Its findings with their names.
    engine : Engine
    reported : Reported

    Returns
    -------
    LogTold
    """
    return LogTold(code_rows(engine, measured.findings, reported), ready_lines(reported), test_rows(reported))
