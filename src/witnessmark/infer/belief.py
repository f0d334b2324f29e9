"""What is believed: probabilities over hypotheses, and everything said about them."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.vocabulary import Condition, Place

__all__ = [
    "Assumed",
    "Belief",
    "Block",
    "Expected",
    "FaultAt",
    "Firmness",
    "Fit",
    "Group",
    "Hypothesis",
    "InVain",
    "ParameterEstimate",
    "StepFit",
    "Tell",
    "Verdict",
    "Weight",
]


@dataclass(frozen=True, slots=True)
class ParameterEstimate:
    """Size of a fault: posterior mean and standard deviation of one state variable's edit.

    Parameters
    ----------
    variable : str
    value, sd : float, shape ()
        In ``unit``.
    unit : str
    """

    variable: str
    value: float
    sd: float
    unit: str


@dataclass(frozen=True, slots=True)
class FaultAt:
    """One fault at one place, with its size.

    Parameters
    ----------
    fault : str
        Id in the catalogue: "wheel_slipped".
    place : tuple of (str, str)
        ("wheel", "crank") and the like.
    parameters : tuple of ParameterEstimate
    words : str
        "Crank wheel slipped on its shaft".
    """

    fault: str
    place: tuple[tuple[str, str], ...]
    parameters: tuple[ParameterEstimate, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Expected:
    """What a hypothesis predicts at one place: looked for or not.

    Parameters
    ----------
    quantity : str
    place : Place
    condition : Condition
    value, sd : float, shape ()
        In ``unit``.
    unit : str
    """

    quantity: str
    place: Place
    condition: Condition
    value: float
    sd: float
    unit: str


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One explanation.

    Parameters
    ----------
    id : str
        "h1", "h2" … by probability, or "nothing_wrong", "elsewhere", "none_of_these".
    faults : tuple of FaultAt
    probability, prior : float [-]
    log_evidence : float [nat]
        Natural log of the probability of all findings under it.
    words : str
    also_shows : tuple of Expected
        What it predicts that differs from healthy and nobody has looked for.
    """

    id: str
    faults: tuple[FaultAt, ...]
    probability: float
    prior: float
    log_evidence: float
    words: str
    also_shows: tuple[Expected, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """Hypotheses that one and the same repair cures; ``cause`` says in a few words what they share.

    Parameters
    ----------
    id : str
        "g1", "g2" … by probability.
    repair : str
        Job and scope: "chain_set:primary", several joined by +.
    words : str
    cause : str
        What the repair cures, in a few words.
    hypotheses : tuple of str
        Their ids.
    probability : float [-]
    minutes : tuple of float, shape (3,) [min]
        Low, typical, high.
    success : float [-]
    """

    id: str
    repair: str
    words: str
    hypotheses: tuple[str, ...]
    probability: float
    minutes: tuple[float, float, float]  # low, typical, high
    success: float
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """cause, cleared, nothing_wrong or cannot_tell, and why.

    Parameters
    ----------
    kind : str
    group : str, optional
        The group that leads.
    cleared : tuple of str
        Systems found healthy.
    reason : str
    """

    kind: str
    group: str | None
    cleared: tuple[str, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class Block:
    """Findings weighed together, and what they say in decibans.

    Parameters
    ----------
    findings : tuple of str
        Their ids; empty for what is known beside findings.
    decibans : float [dB]
    words : str
    """

    findings: tuple[str, ...]
    decibans: float
    words: str


@dataclass(frozen=True, slots=True)
class Weight:
    """One hypothesis against another: prior plus blocks is exactly the posterior.

    Parameters
    ----------
    leader, rival : str
        Ids of hypotheses.
    prior_decibans, posterior_decibans : float [dB]
    blocks : tuple of Block
    """

    leader: str
    rival: str
    prior_decibans: float
    blocks: tuple[Block, ...]
    posterior_decibans: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A finding against what the leading hypothesis expects of it.

    Parameters
    ----------
    finding : str
        Its id.
    expected, sd : float, shape ()
        In the finding's unit.
    z : float [-]
        Finding less expectation, in spreads.
    """

    finding: str
    expected: float
    sd: float
    z: float


@dataclass(frozen=True, slots=True)
class Tell:
    """What one hypothesis expects of one finding, and what that finding says of it by itself.

    Parameters
    ----------
    finding, hypothesis : str
        Their ids.
    expected, sd : float, shape ()
        In the finding's unit; not a number where there could be no such reading. Of codes, answers and grades the
        chance that it would be as it was found, sd 0.
    log_density : float [nat]
        Log of the probability (density) of the finding.
    is_chance : bool
    """

    finding: str
    hypothesis: str
    expected: float
    sd: float
    log_density: float
    is_chance: bool = False


@dataclass(frozen=True, slots=True)
class InVain:
    """A part that was renewed without cure.

    Parameters
    ----------
    id : str
        "d1", "d2" …: work done before, in the order it was written.
    words : str
    probability : float [-]
        What is left for causes that it would have cured.
    """

    id: str
    words: str
    probability: float


@dataclass(frozen=True, slots=True)
class Assumed:
    """A number of the description that is not known, what was taken, and what it is worth.

    Parameters
    ----------
    number : str
    taken_as, words : str
    worth_bits : float [bit]
        About which repair it is.
    """

    number: str
    taken_as: str
    worth_bits: float
    words: str


@dataclass(frozen=True, slots=True)
class StepFit:
    """How well whole pitches of one stage explain what was read.

    Parameters
    ----------
    stage : str
        In words.
    teeth : str
        Which sprocket with how many teeth makes this step: "cam 40 / crank 20".
    pitches : int
        Whole pitches, + = early.
    step_deg : float [deg]
        Crank degrees of one pitch.
    residual_deg, z : float, shape ()
        What is left over, in crank degrees and in its own spread.
    probability : float [-]
        Share among all whole-step explanations.
    """

    stage: str
    teeth: str
    pitches: int
    step_deg: float
    residual_deg: float
    z: float
    probability: float


@dataclass(frozen=True, slots=True)
class Firmness:
    """Whether the likeliest repair would stay the likeliest if the priors were wrong.

    Parameters
    ----------
    first : float [-]
        Share of the priors tried under which it stays first.
    low, high : float [-]
        Its probability under 90 % of them.
    wrong_by : float [-]
        By how much each prior was off at most, either way.
    """

    first: float
    low: float
    high: float
    wrong_by: float


@dataclass(frozen=True, slots=True)
class Belief:
    """Everything the reasoner has to say; hypotheses by falling probability, summing to 1.

    ``inseparable`` names the leader and those rivals, cured by another repair, that no finding so
    far parts from it; empty where there are none.
    ``step_set`` is the smallest set of tooth counts that holds ``step_mass`` of what whole
    steps explain (both empty and 0 where no whole step is in question).

    Parameters
    ----------
    hypotheses : tuple of Hypothesis
    groups : tuple of Group
    verdict : Verdict
    weights : tuple of Weight
        The leader against its rivals.
    fit : tuple of Fit
        Of the leader.
    assumed : tuple of Assumed
    steps : tuple of StepFit
    step_set : tuple of str
    step_mass : float [-]
    notes : tuple of str
        What was kept and not weighed, and why.
    firmness : Firmness, optional
        Of the first repair; None where none leads.
    tells : tuple of Tell
        Every weighed finding under the leader, its rivals, the sound vehicle and what was ruled out.
    ruled_out : tuple of str
        Ids of common causes that the findings speak against most, the commonest first.
    in_vain : tuple of InVain
    """

    hypotheses: tuple[Hypothesis, ...]
    groups: tuple[Group, ...]
    verdict: Verdict
    weights: tuple[Weight, ...]
    fit: tuple[Fit, ...]
    assumed: tuple[Assumed, ...]
    inseparable: tuple[str, ...] = ()
    steps: tuple[StepFit, ...] = ()
    step_set: tuple[str, ...] = ()
    step_mass: float = 0.0
    notes: tuple[str, ...] = ()
    firmness: Firmness | None = None
    tells: tuple[Tell, ...] = ()
    ruled_out: tuple[str, ...] = ()
    in_vain: tuple[InVain, ...] = ()

    def hypothesis(self, name: str) -> Hypothesis:
        """The hypothesis of this id.

        Parameters
        ----------
        name : str

        Returns
        -------
        Hypothesis

        Raises
        ------
        KeyError
            If there is none.
        """
        for hypothesis in self.hypotheses:
            if hypothesis.id == name:
                return hypothesis
        raise KeyError(name)
