"""What several electrical findings share, as it stands in an answer: said, drawn, and held against all other causes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.infer.shared import Ranked, SharedBelief, Weight
from witnessmark.infer.sharedanswer import SharedAnswer
from witnessmark.infer.sharedsites import SHARED_PLACES, node_words
from witnessmark.infer.sharedtests import Parting
from witnessmark.predict.wires import carrying
from witnessmark.report.naming import quantity_words
from witnessmark.report.nextstep import LAST_CAUTION
from witnessmark.report.sharedgraph import SharedFigure, shared_figure
from witnessmark.report.sharedtold import SharedTold, shared_told, when_words
from witnessmark.report.standing import SPECIAL, hypothesis_words
from witnessmark.report.words import at_start, chance, counted, inside, listed, sentence

__all__ = ["SharedPart", "shared_part"]

_NAMED = 6  # findings named one by one
_SURE = 0.5  # from which one place is named alone
_OTHERS = 3  # places named together under that
_NEAR = 0.1  # of the first: what is not named beside it under that
_AS_SURE = 0.05  # by how much less often a reading may name the right one and count as sure as another
_LEAST = 0.005  # below it a share is not worth its number


@dataclass(frozen=True, slots=True)
class SharedPart:
    """The part of an answer on what several findings share.

    Parameters
    ----------
    short : str
        Which findings share which place, and what to measure first.
    relation : str
        How the place stands among all causes.
    told : SharedTold
    figure : SharedFigure, optional
    cautions : tuple of str
        Of the readings that are named, the one that always holds last; empty where none is named.
    """

    short: str
    relation: str
    told: SharedTold
    figure: SharedFigure | None
    cautions: tuple[str, ...]


def shared_part(assessment: Assessment) -> SharedPart | None:
    """What several findings share, ready to be shown.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    SharedPart or None
        None where the answer holds no such place.
    """
    answer, engine = assessment.shared, assessment.engine
    if answer is None or not answer.belief.ranked:
        return None
    return SharedPart(
        short=_short(engine, answer),
        relation=_relation(assessment, answer),
        told=shared_told(engine, answer.belief, answer.tests),
        figure=_drawn(engine, answer.belief),
        cautions=_cautions(answer.tests),
    )


def _short(engine: Engine, answer: SharedAnswer) -> str:
    """ "P0108 and P0123 share the sensor ground (85 %). Measure first: drop, sensor ground (key on)." """
    found = f"{_found(answer.belief.ranked[0].explains)} share {_places(engine, answer.belief)}."
    if not answer.tests:
        return found
    query = _look_first(answer).query
    when = when_words(engine, answer.belief, query.condition)
    what = inside(quantity_words(engine, query.quantity, query.place))
    return f"{found} {sentence(f'Measure first: {what} ({when})' if when else f'Measure first: {what}')}"


def _look_first(answer: SharedAnswer) -> Parting:
    """The surest reading; of those as sure, one at the suspect itself, where a good one also acquits it."""
    best = answer.tests[0]
    nodes = answer.belief.ranked[0].site.nodes
    own = [one for one in answer.tests if set(nodes) & {str(value) for _, value in one.query.place.items}]
    return next((one for one in own if one.right > best.right - _AS_SURE), best)


def _found(weights: Sequence[Weight]) -> str:
    """The codes by name where they are few; readings counted."""
    codes = [str(w.finding.place.get("code")) for w in weights if w.finding.quantity == "code_state"]
    readings = len(weights) - len(codes)
    named = codes if len(codes) <= _NAMED else [counted(len(codes), "code")]
    return at_start(listed([*named, *([counted(readings, "reading")] if readings else [])]))


def _places(engine: Engine, belief: SharedBelief) -> str:
    """The place that leads; where it is open, what all that come near it are or hang on, and those by name."""
    first = belief.ranked[0]
    if _is_settled(first):
        return f"one place: {_place(first)}"
    near = _near(belief)
    named = [_place(one) for one in near[:_OTHERS]]
    named += [counted(len(near) - _OTHERS, "other place")] if len(near) > _OTHERS else []
    common = _in_common(engine, near)
    if common is None:
        return f"one place, and which it is stays open: {listed(named, 'or')}"
    return f"the {common.site.words}. What is wrong sits at one of these: {listed(named, 'or')}"


def _is_settled(first: Ranked) -> bool:
    """Whether the first is named alone: it holds half, and is no place as a whole that one of its parts equals."""
    return first.probability >= _SURE and not (first.site.kind in SHARED_PLACES and first.alike)


def _near(belief: SharedBelief) -> list[Ranked]:
    first, *others = belief.ranked
    return [first, *(one for one in others if one.is_shared and one.probability > _NEAR * first.probability)]


def _drawn(engine: Engine, belief: SharedBelief) -> SharedFigure | None:
    """The graph about the place that is named: the first, or what all that come near it hold or hang on."""
    common = None if _is_settled(belief.ranked[0]) else _in_common(engine, _near(belief))
    return shared_figure(engine, belief, rank=0 if common is None else belief.ranked.index(common))


def _in_common(engine: Engine, near: Sequence[Ranked]) -> Ranked | None:
    """The suspect that all the others hold or hang on; None where there is none, or no other."""
    graph = supply_of(engine)
    ways = [{n for name in one.site.nodes if graph.has(name) for n in carrying(graph, name)} for one in near]
    every = set.intersection(*ways) if len(near) > 1 else set()
    return next((one for one in near if one.site.id in every), None)


def _place(ranked: Ranked) -> str:
    return f"the {ranked.site.words} ({chance(ranked.probability)})"


def _relation(assessment: Assessment, answer: SharedAnswer) -> str:
    """The chance here beside that among all causes, and why they differ."""
    first, place = answer.belief.ranked[0], answer.among_all
    only = "These shares hold if the cause lies along supplies, grounds, 5 V sources, buses, plugs or harness."
    has = chance(place.probability) if place.probability >= _LEAST else "next to nothing"
    if first.site.kind in SHARED_PLACES:
        node = node_words(assessment.engine, supply_of(assessment.engine).node(place.node))
        return (
            f"{only} Among the causes above stand single parts alone, no {first.site.kind} as a whole: there the"
            f" {node}, which is part of it, has {has}.{_decide(answer)}"
        )
    above = f"{only} Among all causes above the {first.site.words}"
    if place.leads:
        return f"{above} leads too, with {has}."
    leader = next((one for one in assessment.belief.hypotheses if one.id not in SPECIAL), None)
    if leader is None or leader.probability < _LEAST:
        return f"{above} has {has}.{_decide(answer)}"
    likeliest = f"{inside(hypothesis_words(leader))}, {chance(leader.probability)}"
    return f"{above} has {has}; likeliest there: {likeliest}.{_decide(answer)}"


def _decide(answer: SharedAnswer) -> str:
    if not answer.tests:
        return " No reading known here parts it from its rivals."
    return f" The readings named here part it from the {answer.tests[0].rival.words}."


def _cautions(tests: Sequence[Parting]) -> tuple[str, ...]:
    known = {one.id: one for one in all_procedures().all}
    said = [text for test in tests if test.test in known for text in known[test.test].hazards]
    return tuple(dict.fromkeys(map(sentence, (*said, LAST_CAUTION)))) if tests else ()
