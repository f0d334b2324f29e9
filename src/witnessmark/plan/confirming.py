"""Proof before teardown: a direct look at the cause before a repair that takes half a day.

Minutes alone do not ask for it: at 99 % a look of half an hour saves less than it takes. But a head that is off cannot
be put back as if nothing had been, the owner pays for it either way, and the 99 % stand on a model and on readings that
speak of the cause from afar. So whatever names it, the part itself is looked at, by what parts it best from its rivals,
until a look has spoken for it. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Finding
from witnessmark.infer.components import Key
from witnessmark.infer.posterior import Posterior
from witnessmark.infer.tell import SPEAKS, tells_of
from witnessmark.plan.casedecision import CaseDecision, tried_on
from witnessmark.plan.decision import Valued
from witnessmark.plan.outcomes import entropy_bits
from witnessmark.plan.repairs import repair_name
from witnessmark.vocabulary import Query

__all__ = ["DEAR_MINUTES", "DIRECT", "confirming_test", "is_confirmed", "is_direct", "parts"]

Array = NDArray[np.float64]

DEAR_MINUTES = 300.0
"""Typical minutes from which on a repair is not begun without a direct look; our guess, half a working day and more."""
DIRECT = frozenset(
    {
        *("cylinder_leakage", "leak_path", "leak_smoke", "coolant_gas_seen", "coolant_drop", "oil_pressure"),
        *("look", "lift_seen", "lash_seen", "mark_offset", "pins_between", "tensioner_extension", "wheel_angle_seen"),
        *("valve_event", "turning_torque"),
    }
)
"""Quantities that show where it leaks or how a part stands, and not only what follows from it."""
_SOUND = "nothing_wrong"
_WITHOUT = (_SOUND, "elsewhere")
_PARTS = 0.25  # bit at even odds: a look that parts the cause from its rivals by less confirms nothing; our guess


def is_direct(reading: Query | Finding) -> bool:
    """Whether a reading looks at a part itself: smoke at the tail pipe and smells of a whole zone follow from many.

    Parameters
    ----------
    reading : Query or Finding

    Returns
    -------
    bool
    """
    return reading.quantity in DIRECT and reading.place.get("zone") is None


def is_confirmed(post: Posterior, cause: Key) -> bool:
    """Whether a direct look has spoken for a cause.

    Parameters
    ----------
    post : Posterior
    cause : Key

    Returns
    -------
    bool
        False too where the looks so far were at something else, or saw nothing.
    """
    direct = {finding.id for finding in post.worlds[0].findings.all if is_direct(finding)}
    if not direct:
        return False
    tells = tells_of(post, (cause, _SOUND), {cause: "", _SOUND: _SOUND})
    sound = {tell.finding: tell.log_density for tell in tells if tell.hypothesis == _SOUND}
    own = (tell for tell in tells if tell.hypothesis != _SOUND and tell.finding in direct)
    return any(tell.log_density - sound.get(tell.finding, np.inf) >= SPEAKS for tell in own)


def confirming_test(case: CaseDecision, repair: str, values: Sequence[Valued]) -> Valued | None:
    """What looks at a repair's cause before it is begun.

    Parameters
    ----------
    case : CaseDecision
    repair : str
        By its name.
    values : sequence of Valued
        First actions at hand.

    Returns
    -------
    Valued or None
        None where the repair is not dear, or nothing at hand parts its cause from others directly.

    Notes
    -----
    Of the direct looks the one that tells most, in bits at even odds between the cause and its rivals, less the share
    of the repair's minutes that it takes.
    """
    usual = case.groups[repair].minutes[1]
    if usual < DEAR_MINUTES:
        return None
    best, most = None, 0.0
    for value in values:
        if value.action not in case.tests:
            continue
        bits = parts(case, repair, value.action)
        worth = bits - case.problem.cost_now(case.problem.action(value.action)).minutes / usual
        if bits >= _PARTS and worth > most:
            best, most = value, worth
    return best


def parts(case: CaseDecision, repair: str, test: str) -> float:
    """What the direct readings of a test tell of a repair's cause against the rest, were both as likely.

    Of the rest one half are the other causes of the list, the other half engines without any of them: where readings
    from afar have left no rival, a look still has to see what is there and not on a sound engine.

    Parameters
    ----------
    case : CaseDecision
    repair, test : str

    Returns
    -------
    float, shape () [bit]
        From 0 to 1; the divergence of Jensen and Shannon between what the one and the others would read.
    """
    own, rest = _weights(case, set(repair.split("+")))
    tried = case.tests[test]
    direct = np.array([is_direct(query) for query in tried.law.queries])
    if own.sum() <= 0.0 or rest.sum() <= 0.0 or not direct.any():
        return 0.0
    # At even odds from the start: outcomes are cut where they part the two, however little is left of the one.
    even, causes = 0.5 * (own + rest), case.causes
    of_point = even[causes.of_point] * case.cloud.weight / np.maximum(causes.chance[causes.of_point], 1e-300)
    cloud = replace(case.cloud, weight=of_point)
    table = tried_on(tried.procedure, tried.law.only(direct), cloud, replace(causes, chance=even)).table.table
    mine, theirs = table @ own, table @ rest
    apart = entropy_bits(0.5 * (mine + theirs)) - 0.5 * (entropy_bits(mine) + entropy_bits(theirs))
    return max(float(apart), 0.0)


def _weights(case: CaseDecision, jobs: set[str]) -> tuple[Array, Array]:
    """Chances of the hypotheses that a repair's jobs have a part in, and of the rest, each adding up to 1."""
    sorts = np.zeros((3, len(case.causes.group)))  # its own, other causes of the list, none of either
    for h, group in enumerate(case.causes.group):
        key = case.cloud.groups[group] if group >= 0 else None
        if isinstance(key, str):
            sorts[2, h] = case.causes.chance[h] * (key in _WITHOUT)
        else:
            is_own = key is not None and bool(jobs & set(repair_name(key).split("+")))
            sorts[0 if is_own else 1, h] = case.causes.chance[h]
    own, *others = (part / part.sum() if part.sum() > 0.0 else part for part in sorts)
    rest = sum(others, np.zeros_like(own))
    return own, rest / max(float(rest.sum()), 1e-300)
