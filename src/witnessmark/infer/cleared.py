"""Which systems of the vehicle the findings clear: looked at, and sound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.infer.posterior import Posterior

__all__ = [
    "CLEARED_BELOW",
    "CLEARED_GAIN",
    "NOTHING_CLEARED",
    "SYSTEM_NAMES",
    "Cleared",
    "cleared_systems",
    "told_together",
]

CLEARED_BELOW = 0.05  # of all faults of a system together, to call it cleared
CLEARED_GAIN = 2.0  # and at least this much below their prior: something must have been looked at
_LOOKED_AT = 0.8  # share of a system's prior whose faults the findings would show

_SYSTEMS = {
    "drive": ("timing_drive", "the timing drive", False),
    "cylinder": ("cylinders", "the cylinders", True),
    "air": ("air_path", "the air’s way in", False),
    "exhaust": ("exhaust", "the exhaust", False),
    "sensors": ("sensors", "the sensors", True),
    "fuel": ("fuel_supply", "the fuel supply", False),
    "ignition": ("ignition", "the ignition", False),
    "electrical": ("electrics", "supplies and grounds", True),
    "oil": ("oil_and_driveline", "oil and driveline", True),
}
"""System of the catalogue -> its name in the answer, in words, and whether those are plural."""

SYSTEM_NAMES = tuple(name for name, _, _ in _SYSTEMS.values())
"""Every system as an answer names it."""


@dataclass(frozen=True, slots=True)
class Cleared:
    """Systems that the findings clear.

    Parameters
    ----------
    systems : tuple of str
        Names as in the answer: "timing_drive" and the like.
    before, after : float [-]
        Probability of all their faults together, before any finding and now.
    """

    systems: tuple[str, ...] = ()
    before: float = 0.0
    after: float = 0.0


NOTHING_CLEARED = Cleared()


def cleared_systems(post: Posterior) -> Cleared:
    """Systems most of whose faults the findings would show, and none of which is likely.

    Parameters
    ----------
    post : Posterior

    Returns
    -------
    Cleared
    """
    before, after, looked = dict.fromkeys(_SYSTEMS, 0.0), dict.fromkeys(_SYSTEMS, 0.0), dict.fromkeys(_SYSTEMS, 0.0)
    hidden = {cloud.integrated.component.key[0] for cloud in post.unseen}
    whole = sum(prior.weight for prior in post.priors.values())
    for part, prior in post.priors.items():
        system = post.instances[part].row.system
        if system in before:
            before[system] += prior.weight / whole
            looked[system] += prior.weight / whole * (part not in hidden)
    for name in post.log_mass:
        for system in {post.instances[part].row.system for part in name} if not isinstance(name, str) else ():
            if system in after:
                after[system] += post.probability(name)
    for cloud in post.unseen:
        system = post.instances[cloud.integrated.component.key[0]].row.system
        if system in after:
            after[system] += float(np.exp(cloud.log_total - post.log_total))
    clear = [
        system
        for system in _SYSTEMS
        if before[system] > 0.0
        and looked[system] > _LOOKED_AT * before[system]
        and after[system] < CLEARED_BELOW
        and after[system] < before[system] / CLEARED_GAIN
    ]
    names = tuple(_SYSTEMS[system][0] for system in clear)
    return Cleared(names, sum(before[system] for system in clear), sum(after[system] for system in clear))


def told_together(cleared: Sequence[str]) -> str:
    """The cleared systems as the beginning of a sentence: "The timing drive is".

    Parameters
    ----------
    cleared : sequence of str
        At least one.

    Returns
    -------
    str
    """
    words = [(text, plural) for name, text, plural in _SYSTEMS.values() if name in cleared]
    said = " and ".join((", ".join(text for text, _ in words[:-1]), words[-1][0])) if len(words) > 1 else words[0][0]
    verb = "are" if len(words) > 1 or words[0][1] else "is"
    return f"{said[0].upper()}{said[1:]} {verb}"
