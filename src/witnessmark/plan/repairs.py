"""The repairs of a case as actions: what each cures, its price with its proof, and the jobs that several share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.infer.belief import Group
from witnessmark.infer.history import Work
from witnessmark.infer.points import Particles
from witnessmark.plan.actions import Action, Cost, Cover, make_repair
from witnessmark.plan.causes import UNLIKELY, Causes
from witnessmark.plan.supply import HELD, HOLDING_MINUTES, is_in_doubt, weak_points
from witnessmark.plan.terms import Terms

__all__ = ["PROVING_MINUTES", "Repairs", "repair_name", "repairs_of"]

PROVING_MINUTES = 25.0
"""The same measurements again after every repair: common practice, no source."""
_JOB = "job "  # a job that several repairs share is paid once, as a cover is
_Job = tuple[str, str]  # what is done, and what it covers


@dataclass(frozen=True, slots=True)
class Repairs:
    """What can be repaired.

    Parameters
    ----------
    actions : tuple of Action
    shared : tuple of Cover
        Jobs that are part of several repairs, each with its price.
    """

    actions: tuple[Action, ...]
    shared: tuple[Cover, ...]


def repair_name(group: object) -> str:
    """Name of a group of the points: the repair's, or what it is called where it is no fault.

    Parameters
    ----------
    group : tuple of (job, scope), or str

    Returns
    -------
    str
    """
    return group if isinstance(group, str) else "+".join(f"{job}:{scope}" for job, scope in group)  # type: ignore[attr-defined]


def repairs_of(
    cloud: Particles,
    causes: Causes,
    groups: Mapping[str, Group],
    terms: Terms,
    in_vain: Sequence[Work] = (),
) -> Repairs:
    """A repair for each cause that is told apart; a repair of two faults cures either of them alone as well.

    One that puts a battery right holds the supply up from then on: that part of its price is the same cover.

    Parameters
    ----------
    cloud : Particles
    causes : Causes
    groups : mapping of str to Group
        Every repair of the points by its name.
    terms : Terms
    in_vain : sequence of Work
        Repairs that were done without cure: none is offered a second time, nor a part of one, for what made it fail
        is still there.

    Returns
    -------
    Repairs
    """
    keys = {g: cloud.groups[g] for g in dict.fromkeys(causes.group) if g != UNLIKELY}
    jobs = {g: frozenset(key) for g, key in keys.items() if not isinstance(key, str)}  # type: ignore[call-overload]
    offered = [own for own in jobs.values() if not any(work.includes(part) for work in in_vain for part in own)]
    several = {part for own in offered if len(own) > 1 for part in own}
    weak = _weak_jobs(cloud)
    found = []
    for own in offered:
        group = groups[repair_name(tuple(sorted(own)))]
        cures = np.array([_cures(own, jobs.get(g), groups) for g in causes.group])
        covers = tuple(_job(part) for part in sorted(own & several))
        cost = Cost(0.0) if covers else _price(group, terms, own & weak)
        covers += (HELD,) if own & weak else ()
        found.append(make_repair(group.repair, cost, cures, covers=covers, proving=terms.cost(PROVING_MINUTES)))
    parts = sorted(set().union(*offered) & several)
    shared = (Cover(_job(one), _price(groups[repair_name((one,))], terms, frozenset({one}) & weak)) for one in parts)
    return Repairs(tuple(found), tuple(shared))


def _cures(own: frozenset[_Job], cause: frozenset[_Job] | None, groups: Mapping[str, Group]) -> float:
    """Chance that jobs cure a cause: all of its own must be among them."""
    if cause is None or not cause <= own:
        return 0.0
    return groups[repair_name(tuple(sorted(cause)))].success


def _weak_jobs(cloud: Particles) -> frozenset[_Job]:
    """Jobs that put a battery in doubt right: those of single causes all of whose points have a weak one."""
    if not is_in_doubt(cloud):
        return frozenset()
    weak = weak_points(cloud)
    found = set()
    for g, key in enumerate(cloud.groups):
        mine = cloud.group == g
        if not isinstance(key, str) and len(key) == 1 and mine.any() and weak[mine].all():  # type: ignore[arg-type]
            found.add(key[0])  # type: ignore[index]
    return frozenset(found)


def _price(group: Group, terms: Terms, weak: frozenset[_Job]) -> Cost:
    """Of a repair, without what it holds up for others."""
    minutes = group.minutes[1] - (HOLDING_MINUTES if weak else 0.0)
    return terms.cost(max(minutes, 0.0), terms.parts.get(group.repair, 0.0))


def _job(part: _Job) -> str:
    return _JOB + repair_name((part,))
