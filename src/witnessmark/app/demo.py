"""The demonstration: four cases laid out, examined, and listed on one page."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from witnessmark.app.contents import ContentsRow, contents_html
from witnessmark.app.examine import Examined, examine_case
from witnessmark.app.progress import SILENT, Progress
from witnessmark.case.files import write_new, write_whole
from witnessmark.errors import InputError

__all__ = ["DemoCase", "Demonstration", "lay_out_demo"]

_WHO = "demonstration"


@dataclass(frozen=True, slots=True)
class _Plan:
    """One case: its folder, its file in ``data/demo``, its recordings, what it shows, a description of its own."""

    folder: str
    case: str
    recordings: str
    shows: str
    engine: str | None = None


_CASES = (
    _Plan(
        "1a-both-cams-late",
        "both-cams-late.toml",
        "crank_wheel_slipped",
        "As it came in: why the obvious part is not the cause, and which test decides.",
    ),
    _Plan(
        "1b-both-cams-late-tdc-measured",
        "both-cams-late-tdc-measured.toml",
        "crank_wheel_slipped",
        "The same with the deciding test made: the answer closes.",
    ),
    _Plan(
        "2-hesitates",
        "hesitates.toml",
        "clean",
        "A sound drive on a vehicle with a complaint: look elsewhere.",
    ),
    _Plan(
        "3-both-cams-late-little-known",
        "both-cams-late-little-known.toml",
        "crank_wheel_slipped",
        "The numbers of the first case with a quarter of the engine's description missing.",
        engine="made-up four, less known",
    ),
)
_RECORDED_ENGINE = "made-up four"


@dataclass(frozen=True, slots=True)
class DemoCase:
    """One case of the demonstration, examined."""

    folder: Path
    shows: str
    examined: Examined


@dataclass(frozen=True, slots=True)
class Demonstration:
    """All cases, and the page that lists them."""

    folder: Path
    cases: tuple[DemoCase, ...]
    contents: Path


def lay_out_demo(into: Path, *, progress: Progress = SILENT) -> Demonstration:
    """Lay out the demonstration cases, examine each, and write the page that lists them.

    What is there already stays as it is: a case that somebody has worked on is examined as it stands.

    Parameters
    ----------
    into : Path
        Made if absent.
    progress : Progress

    Returns
    -------
    Demonstration

    Raises
    ------
    InputError
        If a file is in the way, or a case that was there cannot be used.
    StoreError
        If something cannot be kept.
    """
    if into.exists() and not into.is_dir():
        raise InputError(f"{into} is a file", given=str(into), expected="a folder")
    cases = []
    for number, plan in enumerate(_CASES):
        say = _within(progress, f"Case {number + 1} of {len(_CASES)}")
        say("Laying out")
        folder = into / plan.folder
        _lay_out(plan, folder)
        examined = examine_case(folder, who=_WHO, progress=say)
        cases.append(DemoCase(folder, plan.shows, examined))
    rows = [_row(case, into) for case in cases]
    contents = into / "index.html"
    write_whole(contents, contents_html(rows).encode("utf-8"))
    return Demonstration(into, tuple(cases), contents)


def _lay_out(plan: _Plan, folder: Path) -> None:
    if (folder / "case.toml").exists():
        return
    from witnessmark.engine.library import engine_text, find_engine
    from witnessmark.simulate.demo import write_demo_recordings

    if not (folder / "recordings").exists():
        write_demo_recordings(find_engine(_RECORDED_ENGINE), plan.recordings, folder / "recordings")
    if plan.engine is not None and not (folder / "engine.toml").exists():
        write_new(folder / "engine.toml", engine_text(plan.engine).encode("utf-8"))
    # Last, because it is what makes the folder a case: a demonstration that was stopped half-way is laid out again.
    write_new(folder / "case.toml", files("witnessmark").joinpath("data", "demo", plan.case).read_bytes())


def _within(progress: Progress, prefix: str) -> Progress:
    def say(words: str, share: float | None = None) -> None:
        progress(f"{prefix}: {words[:1].lower()}{words[1:]}", share)

    return say


def _row(case: DemoCase, into: Path) -> ContentsRow:
    from witnessmark.report.standing import standing

    assessment = case.examined.assessment
    page = case.examined.page
    return ContentsRow(
        title=assessment.intake.title,
        shows=case.shows,
        stands=standing(assessment).head,
        link=page.relative_to(into).as_posix() if page is not None else "",
    )
