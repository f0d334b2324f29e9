"""The timing drive weighed by itself: what the measures of its own reasoning are made with.

The reference of these measures knows the drive's faults alone, so the reasoner is held to the same list; what all other
faults would take falls to "elsewhere" for both.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from unittest.mock import patch

from benchmarks.drive_list import DRIVE
from witnessmark.catalogue import faults
from witnessmark.catalogue.faultrows import Catalogue
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer import priors
from witnessmark.infer.history import History
from witnessmark.infer.posterior import Posterior, posterior

__all__ = ["drive_alone", "drive_posterior"]


@contextmanager
def drive_alone(part: Catalogue = DRIVE) -> Iterator[None]:
    """The reasoner with the drive's faults alone, or some of them.

    Parameters
    ----------
    part : Catalogue
    """
    with patch.object(faults, "catalogue", lambda *_: part), patch.object(priors, "catalogue", lambda *_: part):
        yield


def drive_posterior(
    engine: Engine, findings: Sequence[Finding], history: History, *, without: Sequence[str] = ()
) -> Posterior:
    """Findings weighed by the drive's faults alone.

    Parameters
    ----------
    engine : Engine
    findings : sequence of Finding
    history : History
    without : sequence of str
        Faults to be left out of the list.

    Returns
    -------
    Posterior
    """
    with drive_alone(replace(DRIVE, rows=tuple(row for row in DRIVE.rows if row.id not in without))):
        return posterior(engine, findings, history)
