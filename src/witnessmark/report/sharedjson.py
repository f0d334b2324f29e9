"""What several electrical findings share as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from witnessmark.finding import Finding
from witnessmark.report.shareddocument import (
    PartingDocument,
    SharedDocument,
    SharedSiteDocument,
    SharedWayDocument,
)

if TYPE_CHECKING:  # the ranking is loaded where something is shared, and not for every answer
    from witnessmark.infer.shared import Ranked, RankedWay, Weight
    from witnessmark.infer.sharedanswer import SharedAnswer
    from witnessmark.infer.sharedtests import Parting

__all__ = ["shared_json"]

_IMPLIED = "implied"


def shared_json(answer: SharedAnswer | None) -> SharedDocument | None:
    """The ranking, what parts it and how it stands among all causes.

    Parameters
    ----------
    answer : SharedAnswer or None

    Returns
    -------
    SharedDocument or None
        None where nothing was asked, or nothing is shared.
    """
    if answer is None:
        return None
    belief, place = answer.belief, answer.among_all
    return {
        "sites": [_site(ranked) for ranked in belief.ranked],
        "several": belief.several,
        "separate": list(belief.separate),
        "nothing": belief.nothing,
        "tests": [_parting(test) for test in answer.tests],
        "among_all": {
            "node": place.node,
            "hypotheses": list(place.hypotheses),
            "groups": list(place.groups),
            "probability": place.probability,
            "leads": place.leads,
        },
        "not_weighed": [{"finding": _name(one.finding), "reason": one.reason} for one in belief.left_out],
        "untold": list(belief.untold),
    }


def _name(finding: Finding) -> str:
    return finding.id or _IMPLIED


def _names(weights: Sequence[Weight]) -> list[str]:
    return [_name(weight.finding) for weight in weights]


def _site(ranked: Ranked) -> SharedSiteDocument:
    return {
        "site": ranked.site.id,
        "kind": ranked.site.kind,
        "words": ranked.site.words,
        "nodes": list(ranked.site.nodes),
        "probability": ranked.probability,
        "ways": [_way(way) for way in ranked.ways],
        "weights": [
            {"finding": _name(one.finding), "decibans": one.decibans, "nodes": list(one.nodes)}
            for one in ranked.weights
        ],
        "explains": _names(ranked.explains),
        "unexplained": _names(ranked.unexplained),
        "silent": _names(ranked.silent),
        "alike": list(ranked.alike),
    }


def _way(ranked: RankedWay) -> SharedWayDocument:
    axes = ranked.way.kind.axes
    return {
        "way": ranked.way.name,
        "to": ranked.way.to,
        "probability": ranked.probability,
        "variable": axes[0].variable if axes else "",
        "size": ranked.size,
        "low": ranked.low,
        "high": ranked.high,
    }


def _parting(test: Parting) -> PartingDocument:
    query = test.query
    return {
        "rival": test.rival.id,
        "quantity": query.quantity,
        "place": query.place.as_dict(),
        "condition": query.condition.as_dict(),
        "test": test.test,
        "minutes": test.minutes,
        "unit": query.kind.unit_at(query.place),
        "first": test.first,
        "first_sd": test.first_sd,
        "second": test.second,
        "second_sd": test.second_sd,
        "right": test.right,
        "before": test.before,
    }
