"""(engine, state, condition) → expected findings. Never sees a fault, only a state."""

from __future__ import annotations

from witnessmark.predict.model import DriveModel
from witnessmark.predict.run import Expectation, Nuisance, expect, misplaced, nuisances, why_not

__all__ = ["DriveModel", "Expectation", "Nuisance", "expect", "misplaced", "nuisances", "why_not"]
