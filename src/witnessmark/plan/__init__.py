"""Which test or repair next, and why."""

from __future__ import annotations

from witnessmark.plan.types import Outcome, Plan, PlannedStep

__all__ = ["Outcome", "Plan", "PlannedStep"]
