"""Who leads a case: the best cause of the likeliest repair, or one of those that are no fault."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.infer.belief import Belief, Group, Hypothesis
from witnessmark.report.standing import SPECIAL

__all__ = ["Lead"]


@dataclass(frozen=True, slots=True)
class Lead:
    """The leading cause and what stands beside it.

    Parameters
    ----------
    belief : Belief
    fault : Hypothesis
        The likeliest cause of the likeliest repair.
    group : Group, optional
        That repair.
    special : Hypothesis
        The likeliest of those that are no fault of the list.
    rival : Hypothesis, optional
        The nearest cause that another repair cures.
    leads : bool
        Whether the repair is likelier than the likeliest of the others.
    """

    belief: Belief
    fault: Hypothesis
    group: Group | None
    special: Hypothesis
    rival: Hypothesis | None
    leads: bool

    @classmethod
    def of(cls, assessment: Assessment) -> Lead:
        """Of a case.

        Parameters
        ----------
        assessment : Assessment

        Returns
        -------
        Lead
        """
        belief = assessment.belief
        special = max((h for h in belief.hypotheses if h.id in SPECIAL), key=lambda h: h.probability)
        group = max(belief.groups, key=lambda g: g.probability, default=None)
        known = {h.id: h for h in belief.hypotheses}
        members = [known[name] for name in group.hypotheses if name in known] if group is not None else []
        faults = members or [h for h in belief.hypotheses if h.id not in SPECIAL]
        if not faults:
            return cls(belief, special, group, special, None, leads=False)
        fault = max(faults, key=lambda h: h.probability)
        mine = set(group.hypotheses) if group is not None else {fault.id}
        others = [h for h in belief.hypotheses if h.id not in mine and h.id not in SPECIAL]
        rival = max(others, key=lambda h: h.probability, default=None)
        own = group.probability if group is not None else fault.probability
        decided = belief.verdict.kind in ("cleared", "nothing_wrong")
        return cls(belief, fault, group, special, rival, leads=own >= special.probability and not decided)

    @property
    def shown(self) -> str:
        """The id that the first words are about."""
        return self.fault.id if self.leads else self.special.id

    @property
    def is_rarer(self) -> bool:
        """Whether the leading cause was the rarer of the two before any finding."""
        return self.rival is not None and self.fault.prior < self.rival.prior
