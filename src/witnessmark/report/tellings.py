"""What single findings say of hypotheses: which weigh most, what each would be under whom, in words with numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from witnessmark.case.assessment import Assessment
from witnessmark.finding import Finding
from witnessmark.infer.belief import Tell
from witnessmark.report.naming import ANGLES, condition_words, quantity_words, reading
from witnessmark.report.words import angle, chance, inside

__all__ = ["SOUND", "Tellings"]

SOUND = "nothing_wrong"
_DECIBANS = 10.0 / math.log(10.0)


@dataclass(frozen=True, slots=True)
class Tellings:
    """Every weighed finding under the hypotheses that are told of.

    Parameters
    ----------
    assessment : Assessment
    """

    assessment: Assessment
    _tells: dict[tuple[str, str], Tell] = field(init=False, default_factory=dict)
    _findings: dict[str, Finding] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._tells.update({(one.hypothesis, one.finding): one for one in self.assessment.belief.tells})
        self._findings.update({one.id: one for one in self.assessment.findings})

    @property
    def weighed(self) -> tuple[Finding, ...]:
        """Findings that are weighed and believed, in their order."""
        names = dict.fromkeys(finding for _, finding in self._tells)
        found = [self._findings[name] for name in names if name in self._findings]
        return tuple(one for one in found if not one.is_asked_back)

    def knows(self, hypothesis: str) -> bool:
        """Whether anything is told of a hypothesis."""
        return any(name == hypothesis for name, _ in self._tells)

    def decibans(self, finding: Finding, of: str, over: str) -> float:
        """What a finding by itself says for one hypothesis over another [dB]; 0 where nobody knows."""
        a, b = self._tells.get((of, finding.id)), self._tells.get((over, finding.id))
        return 0.0 if a is None or b is None else _DECIBANS * (a.log_density - b.log_density)

    def off(self, finding: Finding, hypothesis: str) -> float:
        """How far a finding lies from what a hypothesis expects [spreads]; of answers, how rare this one would be."""
        tell = self._tells.get((hypothesis, finding.id))
        if tell is None:
            return 0.0
        if tell.is_chance:
            return math.sqrt(-2.0 * math.log(min(max(tell.expected, 1e-6), 1.0)))
        if math.isnan(tell.expected):
            return math.inf
        return abs(finding.value - tell.expected) / max(tell.sd, 1e-9)

    def telling(self, of: str, over: str, most: int = 3, least: float = 1.0) -> tuple[Finding, ...]:
        """Findings that say most for one hypothesis over another, the heaviest first."""
        weights = [(self.decibans(finding, of, over), finding) for finding in self.weighed]
        found = sorted((one for one in weights if one[0] >= least), key=lambda one: -one[0])
        return tuple(finding for _, finding in found[:most])

    def oddest(self, hypothesis: str, most: int = 3, least: float = 2.0) -> tuple[Finding, ...]:
        """Findings furthest from what a hypothesis expects, the oddest first."""
        weights = [(self.off(finding, hypothesis), finding) for finding in self.weighed]
        found = sorted((one for one in weights if one[0] >= least), key=lambda one: -one[0])
        return tuple(finding for _, finding in found[:most])

    def name(self, finding: Finding) -> str:
        """ "fuel trim at idle", "P0171"."""
        if finding.quantity == "code_state":
            return str(finding.place.get("code"))
        when = condition_words(finding.condition, bare=True)
        name = inside(quantity_words(self.assessment.engine, finding.quantity, finding.place))
        return f"{name} ({when})" if when else name

    def value(self, finding: Finding) -> str:
        """Its value, without a spread."""
        if finding.quantity in ANGLES and finding.quantity != "cam_deviation":
            return angle(finding.value, finding.sd)
        return reading(finding.quantity, finding.value, finding.sd, finding.place)

    def beside(self, finding: Finding, hypothesis: str, *, shows: str, of: str) -> str:
        """What a hypothesis expects of a finding: "a sound engine: 0 % ± 5", "so in 2 % of sound engines".

        Parameters
        ----------
        finding : Finding
        hypothesis : str
        shows : str
            What stands before a number: "a sound engine: ".
        of : str
            What stands behind the chance of an answer: "of sound engines".

        Returns
        -------
        str
            Empty where nobody knows.
        """
        tell = self._tells.get((hypothesis, finding.id))
        if tell is None:
            return ""
        if tell.is_chance:
            return f"so in {chance(tell.expected)} {of}"
        if math.isnan(tell.expected):
            return "no such reading then"
        if finding.quantity in ANGLES and finding.quantity != "cam_deviation":
            return f"{shows}{angle(tell.expected, tell.sd)}"
        return f"{shows}{reading(finding.quantity, tell.expected, tell.sd, finding.place)}"

    def listed(self, findings: Sequence[Finding], hypothesis: str, *, shows: str, of: str) -> str:
        """Findings with their values, each with what a hypothesis expects; the words for it are said once."""
        parts = []
        first = {True: True, False: True}
        for finding in findings:
            tell = self._tells.get((hypothesis, finding.id))
            is_chance = tell is not None and tell.is_chance
            before, behind = (shows, of) if first[is_chance] else ("", "")
            first[is_chance] = False
            beside = self.beside(finding, hypothesis, shows=before, of=behind).strip()
            parts.append(f"{self.name(finding)} {self.value(finding)}{f' ({beside})' if beside else ''}")
        return "; ".join(parts)
