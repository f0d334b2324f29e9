"""The answer as JSON: the same every time, with no number that JSON does not know."""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.case.assessment import Assessment
from witnessmark.case.reported import Reported
from witnessmark.errors import InferenceError
from witnessmark.finding import Doubt, Finding
from witnessmark.infer.belief import Belief, Firmness, Hypothesis, Weight
from witnessmark.plan.types import FurtherAgreement, PlannedStep, Priced
from witnessmark.report.document import (
    SCHEMA,
    AssessmentDocument,
    DoubtDocument,
    FindingDocument,
    FirmnessDocument,
    FurtherAgreementDocument,
    HypothesisDocument,
    PlannedStepDocument,
    PricedDocument,
    ReportedDocument,
    SourceDocument,
    WeightDocument,
)
from witnessmark.report.explanation import explanation
from witnessmark.report.jsonwords import explanation_json, tells_json
from witnessmark.report.sharedjson import shared_json
from witnessmark.report.standing import SPECIAL

__all__ = ["assessment_json", "finding_json", "reported_json"]

_SUM_TOLERANCE = 1e-6
_DISTRIBUTIONS = {"number": "normal"}


def assessment_json(assessment: Assessment) -> AssessmentDocument:
    """An answer as plain values, ready for ``json.dumps(..., allow_nan=False)``.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    AssessmentDocument
        By the published schema, keys always in the same order.

    Raises
    ------
    InferenceError
        If the probabilities do not add up to 1, a hypothesis that must be there is missing, or a
        number that must be finite is not.
    """
    belief, plan = assessment.belief, assessment.plan
    _check(belief)
    document: AssessmentDocument = {
        "schema": SCHEMA,
        "version": assessment.version,
        "number": assessment.number,
        "made_at": assessment.made_at,
        "engine": assessment.engine.name,
        "assumed": [
            {"number": a.number, "as": a.taken_as, "worth_bits": a.worth_bits, "words": a.words} for a in belief.assumed
        ],
        "findings": [finding_json(finding) for finding in assessment.findings],
        "not_measured": [
            {"quantity": n.quantity, "place": n.place.as_dict(), "reason": n.reason, "settled_by": n.settled_by}
            for n in assessment.not_measured
        ],
        "reported": reported_json(assessment.reported),
        "hypotheses": [_hypothesis(hypothesis) for hypothesis in belief.hypotheses],
        "groups": [
            {
                "id": g.id,
                "repair": g.repair,
                "words": g.words,
                "cause": g.cause,
                "hypotheses": list(g.hypotheses),
                "probability": g.probability,
                "minutes": list(g.minutes),
                "success": g.success,
            }
            for g in belief.groups
        ],
        "verdict": {
            "kind": belief.verdict.kind,
            "group": belief.verdict.group,
            "cleared": list(belief.verdict.cleared),
            "reason": belief.verdict.reason,
        },
        "weights": [_weight(weight) for weight in belief.weights],
        "fit": [{"finding": f.finding, "expected": f.expected, "sd": f.sd, "z": f.z} for f in belief.fit],
        "inseparable": list(belief.inseparable),
        "steps": [
            {
                "stage": s.stage,
                "teeth": s.teeth,
                "pitches": s.pitches,
                "step_deg": s.step_deg,
                "residual_deg": s.residual_deg,
                "z": s.z,
                "probability": s.probability,
            }
            for s in belief.steps
        ],
        "step_set": {"teeth": list(belief.step_set), "mass": belief.step_mass},
        "firmness": _firmness(belief.firmness),
        "plan": {
            "steps": [_step(step) for step in plan.steps],
            "alternatives": [_step(step) for step in plan.alternatives],
            "expected_minutes_to_proof": plan.expected_minutes_to_proof,
            "cannot_beat_minutes": plan.cannot_beat_minutes,
            "open_bits": plan.open_bits,
            "no_plan_beats": plan.no_plan_beats,
            "looked_ahead": plan.looked_ahead,
            "end_minutes": plan.end_minutes,
            "limited": plan.limited,
            "waits": plan.waits,
            "confirms": plan.confirms,
            "offers": [_offer(offer) for offer in plan.offers],
            "instead": None if plan.instead is None else _step(plan.instead),
            "priced": [_priced(one) for one in plan.priced],
        },
        "tells": tells_json(belief),
        "ruled_out": list(belief.ruled_out),
        "in_vain": [{"id": v.id, "words": v.words, "probability": v.probability} for v in belief.in_vain],
        "explanation": explanation_json(explanation(assessment)),
        "notes": [*belief.notes, *assessment.notes],
        "shared": shared_json(assessment.shared),
    }
    _refuse_not_finite(document, "assessment")
    return document


def reported_json(reported: Reported) -> ReportedDocument:
    """What computers reported as plain values.

    Parameters
    ----------
    reported : Reported

    Returns
    -------
    ReportedDocument
    """
    return {
        "codes": [
            {
                "code": one.code,
                "set": one.is_set,
                "status": list(one.status),
                "monitor_ran": one.monitor_ran,
                "failure_type": one.failure_type,
                "unit": one.unit,
                "words": one.words,
                "whose": one.whose,
                "shop": one.shop,
                "derived": one.derived,
            }
            for one in reported.codes
        ],
        "readiness": [{"monitor": one.monitor, "state": one.state, "unit": one.unit} for one in reported.readiness],
        "on_board_tests": [
            {
                "monitor": one.monitor,
                "test": one.test,
                "value": one.value,
                "low": one.low,
                "high": one.high,
                "measured_in": one.measured_in,
                "passed": one.passed,
                "words": one.words,
                "unit": one.unit,
            }
            for one in reported.tests
        ],
    }


def _check(belief: Belief) -> None:
    names = [hypothesis.id for hypothesis in belief.hypotheses]
    missing = [name for name in SPECIAL if name not in names]
    if missing:
        raise InferenceError(f"The belief lacks the hypothesis {missing[0]}, which is always there.")
    total = math.fsum(hypothesis.probability for hypothesis in belief.hypotheses)
    if not abs(total - 1.0) <= _SUM_TOLERANCE:
        raise InferenceError(f"The probabilities of all hypotheses add up to {total:.6f}, not to 1.")


def finding_json(finding: Finding) -> FindingDocument:
    """One finding as plain values.

    Parameters
    ----------
    finding : Finding

    Returns
    -------
    FindingDocument
    """
    source = finding.source
    where: SourceDocument = {"kind": source.kind}
    if source.digest:
        where["digest"] = source.digest
    if source.trace:
        where["trace"] = source.trace
    if source.from_s is not None:
        where["from_s"] = source.from_s
    if source.to_s is not None:
        where["to_s"] = source.to_s
    if source.text:
        where["text"] = source.text
    if source.number is not None:
        where["number"] = source.number
        where["unit"] = source.unit
    document: FindingDocument = {
        "id": finding.id,
        "quantity": finding.quantity,
        "place": finding.place.as_dict(),
        "value": finding.value,
        "sd": finding.sd,
        "unit": finding.unit,
        "distribution": _DISTRIBUTIONS.get(finding.kind.kind, finding.kind.kind),
        "condition": finding.condition.as_dict(),
        "source": where,
        "method": finding.method,
        "assumptions": list(finding.assumptions),
    }
    if finding.checked:
        document["checked"] = True
    if finding.doubt is not None:
        document["doubt"] = _doubt(finding.doubt)
    return document


def _doubt(doubt: Doubt) -> DoubtDocument:
    return {
        "chance": doubt.chance,
        "usual": doubt.usual,
        "usual_sd": doubt.usual_sd,
        "low": doubt.low,
        "high": doubt.high,
        "slip": doubt.slip,
        "meant": doubt.meant,
        "places": doubt.places,
        "unit": doubt.unit,
    }


def _hypothesis(hypothesis: Hypothesis) -> HypothesisDocument:
    evidence = hypothesis.log_evidence
    return {
        "id": hypothesis.id,
        "faults": [
            {
                "fault": fault.fault,
                "place": dict(fault.place),
                "parameters": {p.variable: {"value": p.value, "sd": p.sd, "unit": p.unit} for p in fault.parameters},
                "words": fault.words,
            }
            for fault in hypothesis.faults
        ],
        "probability": hypothesis.probability,
        "prior": hypothesis.prior,
        "log_evidence": evidence if math.isfinite(evidence) else None,
        "words": hypothesis.words,
        "also_shows": [
            {
                "quantity": e.quantity,
                "place": e.place.as_dict(),
                "condition": e.condition.as_dict(),
                "value": e.value,
                "sd": e.sd,
                "unit": e.unit,
            }
            for e in hypothesis.also_shows
        ],
    }


def _firmness(firmness: Firmness | None) -> FirmnessDocument | None:
    if firmness is None:
        return None
    return {"first": firmness.first, "low": firmness.low, "high": firmness.high, "wrong_by": firmness.wrong_by}


def _weight(weight: Weight) -> WeightDocument:
    return {
        "for": weight.leader,
        "against": weight.rival,
        "prior_decibans": weight.prior_decibans,
        "blocks": [{"findings": list(b.findings), "decibans": b.decibans, "words": b.words} for b in weight.blocks],
        "posterior_decibans": weight.posterior_decibans,
    }


def _step(step: PlannedStep) -> PlannedStepDocument:
    return {
        "test": step.test,
        "kind": step.kind,
        "words": step.words,
        "minutes": step.minutes[1],
        "minutes_range": list(step.minutes),
        "teardown": list(step.teardown),
        "needs": list(step.needs),
        "tells_bits": step.tells_bits,
        "minutes_to_proof": step.minutes_to_proof,
        "hazards": list(step.hazards),
        "outcomes": [{"shows": o.shows, "chance": o.chance, "then": o.then, "group": o.group} for o in step.outcomes],
    }


def _priced(one: Priced) -> PricedDocument:
    return {
        "test": one.test,
        "kind": one.kind,
        "minutes": one.minutes,
        "minutes_to_proof": one.minutes_to_proof,
        "no_plan_beats": one.no_plan_beats,
    }


def _offer(offer: FurtherAgreement) -> FurtherAgreementDocument:
    return {
        "what": offer.what,
        "words": offer.words,
        "saves_minutes": offer.saves_minutes,
        "first": offer.first,
        "first_words": offer.first_words,
        "minutes": offer.minutes,
        "money": offer.money,
    }


def _refuse_not_finite(value: object, where: str) -> None:
    """JSON knows no NaN and no infinity: name the field that holds one instead of writing it."""
    if isinstance(value, float) and not math.isfinite(value):
        raise InferenceError(f"{where} is {value}, which is no number.")
    if isinstance(value, Mapping):
        for key, inner in value.items():
            _refuse_not_finite(inner, f"{where}.{key}")
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            _refuse_not_finite(inner, f"{where}[{i}]")
