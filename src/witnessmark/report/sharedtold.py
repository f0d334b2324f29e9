"""What several findings share, in sentences: every one of them made from the numbers of the ranking."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from witnessmark.engine.intervention import interventions
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.infer.shared import Ranked, RankedWay, SharedBelief, Weight
from witnessmark.infer.sharedsites import Way, node_words
from witnessmark.infer.sharedtests import Parting
from witnessmark.report.naming import condition_words, quantity_words, reading, value_words
from witnessmark.report.words import (
    NBSP,
    at_start,
    chance,
    counted,
    decibans,
    inside,
    listed,
    number,
    sentence,
    unit_of,
)
from witnessmark.vocabulary import Condition

__all__ = ["Rival", "SharedTold", "finding_words", "shared_told", "when_words"]

_FEW = 6
_WORTH_NAMING = 0.005
_ACQUITS = -10.0  # decibans from which a silent child acquits by itself

_WAYS = {
    "open": "open",
    "resistance": "a bad contact",
    "short": "a short",
    "loose": "a contact that comes and goes",
    "wet": "water",
    "itself": "the part itself",
    "driver": "its drivers dead",
    "silent": "dead",
    "leak": "a leak",
    "blocked": "blocked",
}
_ENDS = {"ground": "to ground", "supply": "to the supply", "neighbour": "to its neighbour", "": ""}
_UNITS = {"resistance": "ohm", "dropout_rate": "1/min", "leak_area": "mm2"}


@dataclass(frozen=True, slots=True)
class Rival:
    """One other cause, with what stands against it."""

    probability: str
    words: str
    against: str


@dataclass(frozen=True, slots=True)
class SharedTold:
    """The sentences of one ranking.

    Parameters
    ----------
    lead : str
        What is likeliest.
    explains, misses : tuple of str
        Whole sentences on what follows from it and what does not.
    rivals : tuple of Rival
    next_steps : tuple of str
        What would part the first two, and what each would then show.
    untold : tuple of str
        What cannot be told here.
    """

    lead: str
    explains: tuple[str, ...]
    misses: tuple[str, ...]
    rivals: tuple[Rival, ...]
    next_steps: tuple[str, ...]
    untold: tuple[str, ...]


def shared_told(engine: Engine, belief: SharedBelief, tests: Sequence[Parting] = ()) -> SharedTold:
    """Say a ranking in sentences.

    Parameters
    ----------
    engine : Engine
    belief : SharedBelief
    tests : sequence of Parting

    Returns
    -------
    SharedTold
    """
    if not belief.ranked or not belief.ranked[0].weights:
        nothing = "Nothing was found that this description predicts, so nothing can be asked what it shares."
        return SharedTold(nothing, (), (), (), (), belief.untold)
    first = belief.ranked[0]
    return SharedTold(
        _lead(belief, first),
        tuple(_explains(engine, belief, first)),
        tuple(_misses(engine, first)),
        tuple(_rivals(engine, belief)),
        tuple(_step(engine, belief, test) for test in tests),
        belief.untold,
    )


def _lead(belief: SharedBelief, first: Ranked) -> str:
    if belief.nothing > max(first.probability, belief.several):
        return (
            f"Most likely nothing is wrong along these supplies ({chance(belief.nothing)}): what was found is what a"
            f" sound one gives. Were it something, then first the {first.site.words} ({chance(first.probability)})."
        )
    if belief.several > first.probability:
        return (
            f"Most likely they share nothing ({chance(belief.several)}): several faults, each at a place of its own."
            f" The likeliest single cause is the {first.site.words} ({chance(first.probability)})."
        )
    how = _how(first.ways[0])
    main = first.ways[0].way
    alike = sum(one.probability for one in first.ways if (one.way.name, one.way.to) == (main.name, main.to))
    other = next((one for one in first.ways if (one.way.name, one.way.to) != (main.name, main.to)), None)
    open_yet = other is not None and alike <= 0.8 * first.probability
    besides = f"; or, with {chance(other.probability)}, {_how(other)}" if other is not None and open_yet else ""
    sure = "Most likely" if first.probability > 0.5 else "First, but far from sure,"
    return f"{sure} the {first.site.words} ({chance(first.probability)}): {how}{besides}."


def _how(ranked: RankedWay) -> str:
    """ "a bad contact of about 4 Ω (1 to 12 Ω)"."""
    way = ranked.way
    words = " ".join(part for part in (_WAYS[way.name], _ENDS.get(way.to, "")) if part)
    size = _size(way, ranked)
    return f"{words}, {size}" if size else words


def _size(way: Way, ranked: RankedWay) -> str:
    if ranked.size is None or ranked.low is None or ranked.high is None or way.name == "wet":
        return ""
    variable = way.kind.axes[0].variable
    if variable == "shorting":  # siemens say little: as a resistance, the large end first
        low, size, high, unit = 1.0 / ranked.high, 1.0 / ranked.size, 1.0 / ranked.low, "ohm"
    else:
        low, size, high, unit = ranked.low, ranked.size, ranked.high, _UNITS.get(variable, "")
    if high > 1.3 * low:
        return f"about {_figures(size)}{unit_of(unit, size)} ({_figures(low)} to {_figures(high)})"
    return f"{_figures(size)}{unit_of(unit, size)}"


def _figures(value: float) -> str:
    """Two figures of a positive number."""
    places = next((k for k, least in enumerate((10.0, 1.0, 0.1, 0.01)) if value >= least), 4)
    return number(value, places)


def _explains(engine: Engine, belief: SharedBelief, first: Ranked) -> Iterator[str]:
    off = len(first.explains) + len(first.unexplained)
    if off:
        named = [finding_words(engine, weight) for weight in first.explains[:_FEW]]
        more = len(first.explains) - len(named)
        named += [f"{counted(more, 'other')}"] if more > 0 else []
        what = f": {listed(named)}" if named else ""
        how_many = (
            f"all {counted(off, 'finding')}" if not first.unexplained else f"{len(first.explains)} of {off} findings"
        )
        whole = "the one finding that is" if off == 1 and not first.unexplained else f"{how_many} that are"
        yield sentence(f"It explains {whole} off{what}")
    else:
        yield "No finding by itself is off what a sound vehicle gives."
    if first.alike:
        names = [_site_words(belief, name) for name in first.alike[:_FEW]]
        if len(first.alike) > _FEW:
            names.append(counted(len(first.alike) - _FEW, "other"))
        yield sentence(f"No finding at hand parts it from the {listed(names)}: only how often each fails speaks there")


def _misses(engine: Engine, first: Ranked) -> Iterator[str]:
    if first.unexplained:
        named = [finding_words(engine, weight) for weight in first.unexplained[:_FEW]]
        if len(first.unexplained) > _FEW:
            named.append(counted(len(first.unexplained) - _FEW, "other"))
        yield sentence(f"It does not explain {listed(named)}")
    for weight in first.silent[:_FEW]:
        yield sentence(
            f"The {_children(engine, weight)} would suffer too, but: {finding_words(engine, weight)}"
            f" ({decibans(weight.decibans)} decibans)"
        )


def _rivals(engine: Engine, belief: SharedBelief) -> Iterator[Rival]:
    for ranked in [one for one in belief.ranked[1 : _FEW + 1] if one.probability > _WORTH_NAMING]:
        yield Rival(
            chance(ranked.probability),
            at_start(f"{ranked.site.words}: {_how(ranked.ways[0])}"),
            _against(engine, belief, ranked),
        )
    where = [node_words(engine, supply_of(engine).node(name)) for name in belief.separate[:_FEW]]
    apart = f"Several faults, each of its own{': at the ' + listed(where) if where else ''}"
    yield Rival(chance(belief.several), apart, "")
    yield Rival(chance(belief.nothing), "Nothing wrong along these supplies", "")


def _against(engine: Engine, belief: SharedBelief, ranked: Ranked) -> str:
    """The finding that speaks most for the first against this one."""
    first = belief.ranked[0]
    apart = [(a.decibans - b.decibans, b) for a, b in zip(first.weights, ranked.weights, strict=True)]
    most, weight = max(apart, key=lambda one: one[0], default=(0.0, None))
    if weight is None or most < 1.0:
        return "No finding parts it from the first by itself; it fails less often."
    child = _children(engine, weight)
    if weight.decibans <= _ACQUITS and child:
        return sentence(f"acquitted by the {child}: {finding_words(engine, weight)} ({decibans(-most)})")
    return sentence(f"against it: {finding_words(engine, weight)} ({decibans(-most)})")


def finding_words(engine: Engine, weight: Weight) -> str:
    """One finding in words: "P0351 set", "drop, pin c9.3: 4.0 V".

    Parameters
    ----------
    engine : Engine
    weight : Weight

    Returns
    -------
    str
    """
    finding = weight.finding
    if finding.quantity == "code_state":
        return f"{finding.place.get('code')} {'set' if finding.value > 0.5 else 'silent'}"
    return f"{inside(quantity_words(engine, finding.quantity, finding.place))}: {value_words(finding)}"


def _children(engine: Engine, weight: Weight) -> str:
    graph = supply_of(engine)
    return node_words(engine, graph.node(weight.nodes[0])) if weight.nodes and graph.has(weight.nodes[0]) else ""


def _site_words(belief: SharedBelief, name: str) -> str:
    return next(one.site.words for one in belief.ranked if one.site.id == name)


def _step(engine: Engine, belief: SharedBelief, test: Parting) -> str:
    first, second = belief.ranked[0].site.words, test.rival.words
    query = test.query
    when = when_words(engine, belief, query.condition)
    what = quantity_words(engine, query.quantity, query.place)
    if query.kind.kind == "yes_no":
        shows = f"yes in {chance(test.first)} if it is the {first}, in {chance(test.second)} if the {second}"
    else:
        values = [
            reading(query.quantity, value, sd, query.place)
            for value, sd in ((test.first, test.first_sd), (test.second, test.second_sd))
        ]
        shows = f"{values[0]} if it is the {first}, {values[1]} if the {second}"
    return sentence(
        f"{what}{f' ({when})' if when else ''}: {shows}. It names the right one of the two in {chance(test.right)}"
        f" instead of {chance(max(test.before, 1.0 - test.before))}; {number(test.minutes)}{NBSP}min"
    )


def when_words(engine: Engine, belief: SharedBelief, condition: Condition) -> str:
    """When something is read, and what is done meanwhile, with sites and nodes by their words.

    Parameters
    ----------
    engine : Engine
    belief : SharedBelief
    condition : Condition

    Returns
    -------
    str
    """
    plain = condition_words(replace(condition, during=None), bare=True)
    name, _, where = (condition.during or "").partition(":")
    if not name:
        return plain
    graph = supply_of(engine)
    words = node_words(engine, graph.node(where)) if graph.has(where) else where
    words = next((one.site.words for one in belief.ranked if one.site.id == where), words)
    return f"{plain}, {interventions()[name].words.replace('{where}', f'the {words}')}"
