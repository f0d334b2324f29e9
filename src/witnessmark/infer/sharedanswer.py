"""What several electrical findings share, as an answer keeps it: the ranking, what parts it, and how it stands among
all causes.

The ranking asks one question, and takes for granted that something is wrong along the supplies; the belief weighs the
same places against everything else. So the place that leads here is looked up there, and both numbers are said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.finding import Finding
from witnessmark.infer.belief import Belief, Hypothesis
from witnessmark.infer.diagnose import Diagnosis
from witnessmark.infer.shared import SharedBelief, shared_cause
from witnessmark.infer.sharedgate import is_electrical
from witnessmark.infer.sharedsites import Site
from witnessmark.infer.sharedtests import Parting, parting_tests

__all__ = ["AmongAll", "SharedAnswer", "among_all", "is_worth_telling", "shared_answer"]

_MOST_SITES = 8  # kept with an answer
_MOST_TESTS = 3
_WORTH = 0.5  # of all: what places that several findings share must reach together


@dataclass(frozen=True, slots=True)
class AmongAll:
    """How the place that leads stands in the belief over all causes.

    Parameters
    ----------
    node : str
        The node that was looked up: the place itself; of a connector, a harness or a zone, which the belief does not
        weigh as a whole, the likeliest of its nodes there.
    hypotheses : tuple of str
        Ids of those whose single fault sits there, the likeliest first.
    probability : float [-]
        Of all of them together.
    groups : tuple of str
        Ids of the groups that hold one of them, the likeliest first.
    leads : bool
        Whether the likeliest fault of the belief sits there.
    """

    node: str
    hypotheses: tuple[str, ...]
    probability: float
    groups: tuple[str, ...]
    leads: bool


@dataclass(frozen=True, slots=True)
class SharedAnswer:
    """What several electrical findings share.

    Parameters
    ----------
    belief : SharedBelief
        Plain, its likeliest sites only.
    tests : tuple of Parting
        What parts the first two, the surest first.
    among_all : AmongAll
    """

    belief: SharedBelief
    tests: tuple[Parting, ...]
    among_all: AmongAll


def shared_answer(diagnosis: Diagnosis, findings: Sequence[Finding]) -> SharedAnswer | None:
    """Ask what the electrical findings share.

    Parameters
    ----------
    diagnosis : Diagnosis
    findings : sequence of Finding
        Of this diagnosis, with ids.

    Returns
    -------
    SharedAnswer or None
        None where separate faults or none at all explain them as well.
    """
    post = diagnosis.posterior
    model = post.worlds[int(np.argmax(post.world_mass))].model
    belief = shared_cause(model.engine, [one for one in findings if is_electrical(one)], model=model)
    if not is_worth_telling(belief):
        return None
    place = among_all(diagnosis.belief, belief.ranked[0].site)
    return SharedAnswer(belief.plain(_MOST_SITES), parting_tests(belief, most=_MOST_TESTS), place)


def is_worth_telling(belief: SharedBelief) -> bool:
    """Whether one place explains more than separate faults do.

    Parameters
    ----------
    belief : SharedBelief

    Returns
    -------
    bool
        Whether the first explains findings at two nodes or more and is likelier than several faults and than none, and
        the places that do so hold half of all together.
    """
    if not belief.ranked:
        return False
    first = belief.ranked[0]
    together = sum(one.probability for one in belief.ranked if one.is_shared)
    return first.is_shared and first.probability > max(belief.several, belief.nothing) and together >= _WORTH


def among_all(belief: Belief, site: Site) -> AmongAll:
    """Where a site stands in the belief over all causes.

    Parameters
    ----------
    belief : Belief
    site : Site

    Returns
    -------
    AmongAll
    """
    by_node = {name: [one for one in belief.hypotheses if _sits_at(one, name)] for name in site.nodes}
    node = max(by_node, key=lambda name: sum(one.probability for one in by_node[name]))
    own = by_node[node]
    names = {one.id for one in own}
    first = next((one for one in belief.hypotheses if one.faults), None)
    return AmongAll(
        node=node,
        hypotheses=tuple(one.id for one in own),
        probability=float(sum(one.probability for one in own)),
        groups=tuple(group.id for group in belief.groups if names.intersection(group.hypotheses)),
        leads=first is not None and first.id in names,
    )


def _sits_at(hypothesis: Hypothesis, node: str) -> bool:
    """A single fault at the node itself: the wire before it or the part that it is."""
    return len(hypothesis.faults) == 1 and node in (value for _, value in hypothesis.faults[0].place)
