"""The page of each log: values by operating state and over time, beside what a sound engine would show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from witnessmark.app.answer import write_text
from witnessmark.app.engines import likeliest
from witnessmark.app.logbands import expected_in
from witnessmark.app.measure import LogRead, Measurements
from witnessmark.case.record import bare_engine
from witnessmark.engine.types import Engine
from witnessmark.report.logcurves import Expected
from witnessmark.report.logpage import render_log
from witnessmark.report.logtext import log_text

__all__ = ["LogShown", "log_words", "shown", "write_log_pages"]

_OF_CAMS = ("drive.", "reporting.")
_UNNAMED = "No engine was named, so nothing is expected. A cylinder count is enough: --cylinders 4."


@dataclass(frozen=True, slots=True, eq=False)
class LogShown:
    """A log beside what a sound engine would show.

    Parameters
    ----------
    read : LogRead
    engine : Engine
        What places are named by: the likeliest that the description allows.
    named : str
        What to call it; empty where none was named.
    expected : tuple of Expected
    assumed : tuple of str
        What was taken for granted.
    """

    read: LogRead
    engine: Engine
    named: str
    expected: tuple[Expected, ...]
    assumed: tuple[str, ...]


def shown(found: Measurements) -> dict[int, LogShown]:
    """Each log beside what a sound engine would show, by its place among the recordings.

    Parameters
    ----------
    found : Measurements

    Returns
    -------
    dict of int to LogShown
    """
    return {place: _shown(read, found.engine) for place, read in found.logs.items()}


def write_log_pages(logs: Iterable[LogShown], into: Path) -> tuple[Path, ...]:
    """Write the page of each log.

    Parameters
    ----------
    logs : iterable of LogShown
    into : Path
        Folder; made where it is not there. A page of the same log that lies there is written anew.

    Returns
    -------
    tuple of Path

    Raises
    ------
    StoreError
        If a page cannot be written.
    """
    names: dict[str, int] = {}
    pages = []
    for one in logs:
        stem = Path(one.read.file.recording.name).stem
        names[stem] = names.get(stem, 0) + 1
        name = stem if names[stem] == 1 else f"{stem}-{names[stem]}"
        pages.append(write_text(_page(one), into / f"{name}.html"))
    return tuple(pages)


def log_words(one: LogShown, width: int) -> str:
    """What a log shows, for a terminal.

    Parameters
    ----------
    one : LogShown
    width : int

    Returns
    -------
    str
    """
    return log_text(
        one.read.measured, one.engine, one.expected, one.read.file.columns, reported=one.read.file.reported, width=width
    )


def _page(one: LogShown) -> str:
    return render_log(
        one.read.measured,
        one.engine,
        one.expected,
        one.read.file.columns,
        assumed=one.assumed,
        against=one.named,
        reported=one.read.file.reported,
    )


def _shown(read: LogRead, engine: Engine | None) -> LogShown:
    if engine is None:
        return LogShown(read, likeliest(bare_engine(4)).engine, "", (), (_UNNAMED,))
    kind = likeliest(engine)
    has_cams = any(signal.id.startswith("cam_") for signal in read.measured.log.series)
    assumed = tuple(f"{number}: {what}" for number, what in kind.taken if has_cams or not number.startswith(_OF_CAMS))
    litres = engine.breathing.cylinder.displacement_l.exact
    named = engine.name if litres is None else f"{engine.name}, {litres:g} L"
    return LogShown(read, kind.engine, named, expected_in(read.measured, engine), assumed)
