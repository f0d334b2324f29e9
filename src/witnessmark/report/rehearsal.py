"""The page of a rehearsal: a recording that was computed, drawn as a real one is."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark import __version__
from witnessmark.case.assessment import DrawnTrace, EdgeMark
from witnessmark.catalogue.spelt import SpeltFault
from witnessmark.engine.types import Engine
from witnessmark.report.page import templates
from witnessmark.report.sizes import sizes_words
from witnessmark.report.tokens import stylesheet
from witnessmark.report.trace import trace_figure
from witnessmark.report.waveform import WaveformFigure

__all__ = ["render_rehearsal"]


def render_rehearsal(
    engine: Engine,
    faults: Sequence[SpeltFault],
    traces: Sequence[DrawnTrace] = (),
    edges: Sequence[EdgeMark] = (),
    *,
    waveforms: Sequence[WaveformFigure] = (),
    recording: str,
    test: str,
    seed: int,
    sealed: bool,
) -> str:
    """The page, as one file without script.

    Parameters
    ----------
    engine : Engine
    faults : sequence of SpeltFault
    traces : sequence of DrawnTrace
        Of crank and cam sensors.
    edges : sequence of EdgeMark
    waveforms : sequence of WaveformFigure
        Of everything else, instead of them.
    recording : str
        Name of the recording's file.
    test : str
        What is done, in words.
    seed : int
    sealed : bool
        Keeps what is wrong, and where every edge should be, off the page.

    Returns
    -------
    str
        HTML.
    """
    marks = tuple(edges) if not sealed else ()
    told = [] if sealed else [f"{fault.instance.words}: {sizes_words(engine, fault)}." for fault in faults]
    title = "A recording to puzzle over" if sealed else "What it would look like"
    if not faults and not sealed:
        told = ["A sound engine."]
    drawn = None if waveforms else trace_figure(engine, traces, marks)
    figures = list(waveforms) if waveforms else [drawn] if drawn is not None else []
    return templates().get_template("rehearsal.html.j2").render(
        version=__version__, title=title, style=stylesheet(), engine=engine.name, test=test, faults=told, seed=seed,
        figures=figures, recording=recording,
        foot=f"Witnessmark {__version__}. Computed for practice; a real engine is measured, not guessed. "
        "Before the test on a real engine: its cautions, and the maker’s service information.",
    )  # fmt: skip
