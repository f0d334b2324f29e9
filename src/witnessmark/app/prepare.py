"""Prepare: predictions of an engine laid out beforehand, so that its first reading is answered at once."""

from __future__ import annotations

from witnessmark.app.engines import engine_meant
from witnessmark.app.progress import SILENT, Progress
from witnessmark.infer.prepared import engines_of, lay_out

__all__ = ["USUAL_CYLINDERS", "prepare"]

USUAL_CYLINDERS = 4
"""Where nothing is said of the engine."""
_WORDS = "Laying out predictions"


def prepare(engine: str | None = None, cylinders: int | None = None, *, progress: Progress = SILENT) -> int:
    """Lay out what first readings of an engine mostly hang on, and keep it in the user's cache.

    Parameters
    ----------
    engine : str, optional
        Name or file of a described engine.
    cylinders : int, optional
        Four where neither is said.
    progress : Progress

    Returns
    -------
    int
        How many engines the description stands for here.

    Raises
    ------
    InputError
        If there is no such engine, or both contradict each other.
    EngineDefinitionError
        If the description cannot be.
    """
    if engine is None and cylinders is None:
        cylinders = USUAL_CYLINDERS
    every = engines_of(engine_meant(engine, cylinders))
    for k, one in enumerate(every):

        def done(share: float, before: int = k) -> None:
            progress(_WORDS, (before + share) / len(every))

        done(0.0)
        lay_out(one, done)
    return len(every)
