"""The answer in words, and what single findings tell, as plain values for JSON."""

from __future__ import annotations

import math

from witnessmark.infer.belief import Belief
from witnessmark.report.document import ExplanationDocument, SentenceDocument, TellDocument
from witnessmark.report.explanation import Explanation
from witnessmark.report.sentences import COMPLAINT, Sentence

__all__ = ["explanation_json", "tells_json"]

_DECIBANS = 10.0 / math.log(10.0)


def explanation_json(told: Explanation) -> ExplanationDocument:
    """Both explanations as plain values, without the sentence that repeats the owner's own words.

    Those may name people, and an answer is kept for ever; case.toml holds them.

    Parameters
    ----------
    told : Explanation

    Returns
    -------
    ExplanationDocument
    """
    return {
        "technician": [_sentence(sentence) for sentence in told.technician],
        "owner": [_sentence(sentence) for sentence in told.owner if COMPLAINT not in sentence.rests_on],
    }


def _sentence(sentence: Sentence) -> SentenceDocument:
    return {"text": sentence.text, "rests_on": list(sentence.rests_on)}


def tells_json(belief: Belief) -> list[TellDocument]:
    """What every weighed finding is under the hypotheses that are told of.

    Parameters
    ----------
    belief : Belief

    Returns
    -------
    list of TellDocument
        Decibans of a finding are over the hypothesis that gives it most, which has 0.
    """
    best: dict[str, float] = {}
    for tell in belief.tells:
        best[tell.finding] = max(best.get(tell.finding, -math.inf), tell.log_density)
    return [
        {
            "finding": tell.finding,
            "hypothesis": tell.hypothesis,
            "expected": tell.expected if math.isfinite(tell.expected) else None,
            "sd": tell.sd if math.isfinite(tell.sd) else None,
            "is_chance": tell.is_chance,
            "decibans": _DECIBANS * (tell.log_density - best[tell.finding]),
        }
        for tell in belief.tells
    ]
