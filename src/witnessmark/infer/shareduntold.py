"""What a supply graph is described too little to tell, said in whole sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.engine.supply import LOADS, SupplyGraph
from witnessmark.infer.sharedlaw import LeftOut

__all__ = ["untold"]

_FEW = 3


def untold(graph: SupplyGraph, left_out: Sequence[LeftOut], *, of_ducts: bool = False) -> tuple[str, ...]:
    """What cannot be told with this description.

    Parameters
    ----------
    graph : SupplyGraph
    left_out : sequence of LeftOut
    of_ducts : bool
        Whether an oil gallery or a vacuum branch is among what is suspected.

    Returns
    -------
    tuple of str
        Whole sentences; empty where all of it is described.
    """
    return (*_of_layout(graph), *(_of_ducts(graph) if of_ducts else ()), *_of_findings(left_out))


def _of_layout(graph: SupplyGraph) -> Iterator[str]:
    if graph.source.kind == "guess":
        yield (
            "No supplies are described for this engine: the usual ones stand in, without a connector, a splice or a"
            " length of harness. A fuse or a ground named here stands for all that lies between it and the next node,"
            " and another layout would share other things."
        )
        return
    kinds = {node.kind for node in graph}
    if not any(graph.sharing("connector", node.connector)[1:] for node in graph if node.connector):
        yield "No connector with two pins or more is described, so none can be asked for as a whole."
    if not kinds & {"pin", "splice", "wire"}:
        yield (
            "No pin, splice or wire is described between fuses and parts: what is said of a fuse holds for all of its"
            " way to the first part."
        )
    if not any(node.harness or node.zone for node in graph):
        yield "No harness and no zone is described: parts that only lie side by side share nothing here."
    if not kinds & {"ground"}:
        yield "No ground is described: a bad ground would look like the battery’s own post."
    guessed = [node.id for node in graph if node.kind in LOADS and not node.load_ohm.is_known]
    if len(guessed) > _FEW:
        yield (
            f"What {len(guessed)} of the loads draw is not described: their drops are worked out with the usual"
            " current of their kind."
        )


def _of_ducts(graph: SupplyGraph) -> Iterator[str]:
    galleries = [node.id for node in graph if node.kind == "gallery"]
    if len(galleries) > 1:
        yield (
            f"Which phaser hangs on which oil gallery is not described: {', '.join(galleries)} are one to what predicts"
            " here, and only opening them tells them apart."
        )
    branches = [node.id for node in graph if node.kind == "branch"]
    if len(branches) > 1:
        yield (
            f"A leak has the same effect in any vacuum branch ({', '.join(branches)}): pinching each hose in turn tells"
            " which it is."
        )


def _of_findings(left_out: Sequence[LeftOut]) -> Iterator[str]:
    reasons: dict[str, list[str]] = {}
    for one in left_out:
        what = str(one.finding.place.get("code") or f"{one.finding.quantity} {one.finding.place}".strip())
        reasons.setdefault(one.reason, []).append(what)
    for reason, names in reasons.items():
        yield f"Not weighed: {', '.join(names)} ({reason})."
