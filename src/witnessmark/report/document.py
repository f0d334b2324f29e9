"""The answer as JSON: its shape, field by field. The published schema is generated from these types.

A new version number is due whenever a field changes its meaning or goes; new fields may come
without one, so readers must pass over what they do not know.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal, NotRequired, TypedDict

from witnessmark.report.shareddocument import SharedDocument

__all__ = [
    "SCHEMA",
    "AssessmentDocument",
    "AssumedDocument",
    "BlockDocument",
    "CodeDocument",
    "DoubtDocument",
    "ExplanationDocument",
    "FaultDocument",
    "FindingDocument",
    "FirmnessDocument",
    "FitDocument",
    "FurtherAgreementDocument",
    "GroupDocument",
    "HypothesisDocument",
    "InVainDocument",
    "MonitorDocument",
    "NotMeasuredDocument",
    "OnBoardTestDocument",
    "OutcomeDocument",
    "ParameterDocument",
    "PlanDocument",
    "PlannedStepDocument",
    "PredictedDocument",
    "PricedDocument",
    "ReportedDocument",
    "SentenceDocument",
    "SourceDocument",
    "StepDocument",
    "StepSetDocument",
    "TellDocument",
    "VerdictDocument",
    "WeightDocument",
]

SCHEMA: Final = "witnessmark/assessment/1"

Place = Annotated[dict[str, str | int], "Where: bank, cam, wheel … with their values"]
Condition = Annotated[
    dict[str, str | float],
    "Under which circumstances: state, speed_rpm, coolant_c, phaser, complaint, during, freeze; left out = not known",
]
Minutes = Annotated[list[float], "Low, typical, high"]

AssumedDocument = TypedDict(
    "AssumedDocument",
    {
        "number": Annotated[str, "The number of the description that is not known"],
        "as": Annotated[str, "What was taken for it"],
        "worth_bits": Annotated[float, "Expected information about the repair, in bits, once it is known"],
        "words": Annotated[str, "The number in words"],
    },
)


class SourceDocument(TypedDict, total=False):
    """Where a finding comes from."""

    kind: Annotated[str, "recording, typed, code or simulated"]
    digest: Annotated[str, "Of the recording: sha256:…"]
    trace: Annotated[str, "Which of its traces"]
    from_s: Annotated[float, "Begin of the stretch looked at, in seconds"]
    to_s: Annotated[float, "End of it"]
    text: Annotated[str, "As it was typed, verbatim"]
    number: Annotated[float, "The number as it was typed, in the unit that was typed"]
    unit: Annotated[str, "The unit that was typed"]


class DoubtDocument(TypedDict):
    """Why a typed figure is asked back before it is believed."""

    chance: Annotated[float, "That it was mistyped or misread, judged by itself; its weight as a reading is the rest"]
    usual: Annotated[float, "What a sound vehicle would show, in the unit of the finding"]
    usual_sd: float
    low: Annotated[float, "How far down any cause of the list would take it"]
    high: Annotated[float, "How far up"]
    slip: Annotated[str, "point, unit, or empty where no slip explains it"]
    meant: Annotated[float | None, "What the slip would have come from"]
    places: Annotated[int, "By how many places the point would move to the right"]
    unit: Annotated[str, "The unit that may have been meant"]


class FindingDocument(TypedDict):
    """One value of one quantity at one place under one condition."""

    id: str
    quantity: Annotated[str, "A name of the closed list"]
    place: Place
    value: Annotated[float, "In `unit`; yes/no as 1 and 0"]
    sd: Annotated[float, "Standard deviation of the measurement; for yes/no the chance of a wrong answer"]
    unit: str
    distribution: Annotated[str, "normal, count, yes_no, sign, word or grade"]
    condition: Condition
    source: SourceDocument
    method: str
    assumptions: list[str]
    checked: NotRequired[Annotated[bool, "True: somebody looked at the figure again, and it stands"]]
    doubt: NotRequired[Annotated[DoubtDocument, "Left out where the figure is believed"]]


class CodeDocument(TypedDict):
    """One trouble code as a computer reported it."""

    code: str
    set: bool
    status: Annotated[list[str], "confirmed, pending, permanent, and bits of its status (ISO 14229) by name"]
    monitor_ran: Annotated[bool | None, "Whether its monitor had its chance; null where nobody knows"]
    failure_type: Annotated[str, "The third byte, two hexadecimal digits; empty where there is none"]
    unit: Annotated[str, "Which computer, as it was written"]
    words: Annotated[str, "What it means; empty where nobody here knows"]
    whose: Annotated[str, "Who says so: standard, shop, maker (its own, not known here), unknown"]
    shop: Annotated[str, "What the shop wrote of a code of the standard, told beside its meaning"]
    derived: Annotated[bool, "True: nobody wrote it; its monitor ran and it was not among the codes"]


class MonitorDocument(TypedDict):
    """A group of monitors and whether it has run since codes were cleared."""

    monitor: str
    state: Annotated[str, "complete, incomplete or unsupported"]
    unit: str


class OnBoardTestDocument(TypedDict):
    """One result of an on-board test with its limits."""

    monitor: str
    test: str
    value: float
    low: Annotated[float | None, "Least allowed"]
    high: Annotated[float | None, "Most allowed"]
    measured_in: Annotated[str, "Unit of value and limits"]
    passed: Annotated[bool | None, "null where there is no limit"]
    words: str
    unit: Annotated[str, "Which computer"]


class ReportedDocument(TypedDict):
    """What the vehicle's computers reported. Freeze frames are findings with the condition freeze."""

    codes: list[CodeDocument]
    readiness: list[MonitorDocument]
    on_board_tests: list[OnBoardTestDocument]


class NotMeasuredDocument(TypedDict):
    """Why a quantity has no value, and what would give it one."""

    quantity: str
    place: Place
    reason: str
    settled_by: str


class ParameterDocument(TypedDict):
    """Size of a fault."""

    value: Annotated[float, "Posterior mean of the state variable's edit"]
    sd: float
    unit: str


class FaultDocument(TypedDict):
    """One fault at one place."""

    fault: Annotated[str, "Id in the catalogue"]
    place: Annotated[dict[str, str], "Where it sits"]
    parameters: Annotated[dict[str, ParameterDocument], "By state variable"]
    words: str


class PredictedDocument(TypedDict):
    """What a hypothesis predicts that differs from healthy and nobody has looked for."""

    quantity: str
    place: Place
    condition: Condition
    value: float
    sd: float
    unit: str


class HypothesisDocument(TypedDict):
    """One explanation; nothing_wrong, elsewhere and none_of_these are always among them."""

    id: str
    faults: list[FaultDocument]
    probability: Annotated[float, "All add up to 1"]
    prior: float
    log_evidence: Annotated[float | None, "Natural log; null where the findings are impossible under it"]
    words: str
    also_shows: list[PredictedDocument]


class GroupDocument(TypedDict):
    """Hypotheses that one repair cures."""

    id: str
    repair: str
    words: str
    cause: Annotated[str, "What its hypotheses share, in a few words"]
    hypotheses: list[str]
    probability: float
    minutes: Minutes
    success: Annotated[float, "Chance that the repair cures it"]


class VerdictDocument(TypedDict):
    """What it comes to."""

    kind: Annotated[str, "cause, cleared, nothing_wrong or cannot_tell"]
    group: str | None
    cleared: Annotated[list[str], "Systems found healthy"]
    reason: str


class BlockDocument(TypedDict):
    """Findings weighed together."""

    findings: list[str]
    decibans: Annotated[float, "10 log10 of the likelihood ratio, leader over rival"]
    words: str


WeightDocument = TypedDict(
    "WeightDocument",
    {
        "for": Annotated[str, "The leading hypothesis"],
        "against": Annotated[str, "The rival"],
        "prior_decibans": float,
        "blocks": list[BlockDocument],
        "posterior_decibans": Annotated[float, "Prior and blocks together"],
    },
)


class TellDocument(TypedDict):
    """What one hypothesis expects of one finding, and what that finding says of it by itself."""

    finding: str
    hypothesis: str
    expected: Annotated[float | None, "In the finding's unit; null where there could be no such reading"]
    sd: float | None
    is_chance: Annotated[bool, "True: expected is the chance that it would be as it was found (codes, answers, grades)"]
    decibans: Annotated[float, "10 log10 of its likelihood, over what the best of these hypotheses gives it"]


class InVainDocument(TypedDict):
    """A part that was renewed without cure."""

    id: Annotated[str, "d1, d2 …: work done before, in the order it was written"]
    words: str
    probability: Annotated[float, "What is left for causes that it would have cured"]


class SentenceDocument(TypedDict):
    """One sentence and what it rests on."""

    text: str
    rests_on: Annotated[
        list[str],
        "Ids of findings (f…), hypotheses, groups (g…), work done (d…), steps of the plan (t1, t2 …: its steps in "
        "order, then its alternatives); complaint: the owner's own words; plan: the plan as a whole",
    ]


class ExplanationDocument(TypedDict):
    """The answer in words."""

    technician: list[SentenceDocument]
    owner: list[SentenceDocument]


class FitDocument(TypedDict):
    """A finding against what the leading hypothesis expects of it."""

    finding: str
    expected: float
    sd: float
    z: Annotated[float, "Distance in joint spreads"]


class StepDocument(TypedDict):
    """How well whole pitches of one stage explain what was read."""

    stage: str
    teeth: Annotated[str, "Which sprocket with how many teeth makes this step"]
    pitches: Annotated[int, "+ = early"]
    step_deg: Annotated[float, "Crank degrees of one pitch"]
    residual_deg: float
    z: float
    probability: Annotated[float, "Share among all whole-step explanations"]


class StepSetDocument(TypedDict):
    """The smallest set of tooth counts that holds the stated mass."""

    teeth: list[str]
    mass: float


class FirmnessDocument(TypedDict):
    """How firmly the first repair stands."""

    first: float
    low: float
    high: float
    wrong_by: float


class OutcomeDocument(TypedDict):
    """One thing a test may show."""

    shows: str
    chance: float
    then: str
    group: str


class PlannedStepDocument(TypedDict):
    """One test or repair."""

    test: str
    kind: Annotated[str, "test or repair"]
    words: str
    minutes: Annotated[float, "Typical, covers included"]
    minutes_range: Minutes
    teardown: list[str]
    needs: list[str]
    tells_bits: float
    minutes_to_proof: float
    hazards: list[str]
    outcomes: list[OutcomeDocument]


class PricedDocument(TypedDict):
    """One first step among all that were looked at."""

    test: str
    kind: Annotated[str, "test or repair"]
    minutes: Annotated[float, "Of itself, covers and the proof of a repair included"]
    minutes_to_proof: Annotated[float, "Expected if this is done first; such a plan was found"]
    no_plan_beats: Annotated[float, "No plan that begins with it can expect fewer minutes"]


class FurtherAgreementDocument(TypedDict):
    """What the owner could agree to besides, and what that would buy."""

    what: Annotated[str, "minutes, money, a cover, or everything"]
    words: str
    saves_minutes: float
    first: Annotated[str, "What would be done first then"]
    first_words: str
    minutes: float
    money: float


class PlanDocument(TypedDict):
    """What to do next."""

    steps: Annotated[list[PlannedStepDocument], "The best next step; empty where none lies inside what was agreed"]
    alternatives: list[PlannedStepDocument]
    expected_minutes_to_proof: float
    cannot_beat_minutes: Annotated[float, "Every cause known beforehand, its repair done once"]
    open_bits: float
    no_plan_beats: Annotated[float, "Fewer minutes no plan can expect, by all that was looked at"]
    looked_ahead: Annotated[int, "So many steps ahead everything was looked at that could still change the choice"]
    end_minutes: Annotated[
        float, "Expected if nothing on the list is done now: gone through from end to end, or the owner asked again"
    ]
    limited: Annotated[bool, "Whether the owner's agreement sets any limit"]
    waits: Annotated[str, "Why tests with the engine running wait; empty where they need not"]
    confirms: Annotated[str, "The dear repair that the first step is the direct look before; else empty"]
    offers: list[FurtherAgreementDocument]
    instead: Annotated[PlannedStepDocument | None, "The technician's own choice, where one was named"]
    priced: Annotated[list[PricedDocument], "Every first step that was looked at, the best first"]


class AssessmentDocument(TypedDict):
    """One answer, whole."""

    schema: Literal["witnessmark/assessment/1"]
    version: Annotated[str, "Of the program that gave the answer"]
    number: Annotated[int, "Which answer of its case"]
    made_at: str
    engine: str
    assumed: list[AssumedDocument]
    findings: list[FindingDocument]
    not_measured: list[NotMeasuredDocument]
    reported: ReportedDocument
    hypotheses: Annotated[list[HypothesisDocument], "By falling probability"]
    groups: list[GroupDocument]
    verdict: VerdictDocument
    weights: list[WeightDocument]
    fit: list[FitDocument]
    inseparable: Annotated[list[str], "Hypotheses that nothing found parts from the leader, itself first"]
    steps: list[StepDocument]
    step_set: StepSetDocument
    firmness: Annotated[FirmnessDocument | None, "Of the first repair, were the priors wrong"]
    plan: PlanDocument
    tells: NotRequired[Annotated[list[TellDocument], "Findings one by one under the hypotheses that are told of"]]
    ruled_out: NotRequired[Annotated[list[str], "Common causes that the findings speak against most"]]
    in_vain: NotRequired[list[InVainDocument]]
    explanation: NotRequired[ExplanationDocument]
    notes: NotRequired[list[str]]
    shared: NotRequired[
        Annotated[
            SharedDocument | None,
            "What two or more electrical findings share; null where separate faults explain them as well",
        ]
    ]
