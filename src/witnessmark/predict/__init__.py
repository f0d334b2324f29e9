"""(engine, state, condition) → expected findings. Never sees a fault, only a state."""

from __future__ import annotations

from witnessmark.predict.drive import command_key, misplaced
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.run import Expectation, expect, nuisances, tolerance_of, why_not
from witnessmark.predict.slope import Slopes, slopes
from witnessmark.predict.table import Direction, PredictionTable, tabulate

__all__ = [
    "Direction",
    "DriveModel",
    "Expectation",
    "Nuisance",
    "PredictionTable",
    "Rule",
    "Slopes",
    "Tolerance",
    "command_key",
    "expect",
    "misplaced",
    "nuisances",
    "slopes",
    "tabulate",
    "tolerance_of",
    "why_not",
]
