"""Findings and history in, belief out: the one door to the reasoner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from witnessmark.catalogue.placeof import ALL
from witnessmark.engine.types import Engine
from witnessmark.errors import nearest
from witnessmark.finding import Finding
from witnessmark.infer.belief import Belief, Expected, Hypothesis, InVain, Weight
from witnessmark.infer.cleared import cleared_systems
from witnessmark.infer.components import Key
from witnessmark.infer.explain import fit_of, inseparable_from_leader, verdict_of, weights_of
from witnessmark.infer.history import REPAIR, History, Work
from witnessmark.infer.posterior import OTHERS, Posterior, posterior
from witnessmark.infer.priors import would_cure
from witnessmark.infer.shows import also_shows
from witnessmark.infer.sorting import query_of
from witnessmark.infer.stability import firmness_of
from witnessmark.infer.summary import (
    assumed_numbers,
    faults_of,
    groups_of,
    percent,
    prior_share,
    step_fits,
    step_set,
    words_of,
)
from witnessmark.infer.tell import ruled_out, tells_of

__all__ = ["Diagnosis", "diagnose"]

_SHOWN, _MOST_SHOWN = 0.02, 5  # what else they would show is worked out for the likeliest only


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The belief, and the posterior behind it that the planner goes on with.

    Parameters
    ----------
    belief : Belief
    posterior : Posterior
    keys : tuple
        All hypotheses, by falling probability.
    findings : tuple of Finding
        As they were weighed, named; figures that are asked back carry their doubt.
    in_vain : tuple of Work
        Repairs of answers that were done without cure.
    """

    belief: Belief
    posterior: Posterior
    keys: tuple[Key | str, ...]
    findings: tuple[Finding, ...] = ()
    in_vain: tuple[Work, ...] = ()


def diagnose(engine: Engine, findings: Sequence[Finding], history: History) -> Diagnosis:
    """Weigh everything that is known.

    Parameters
    ----------
    engine : Engine
        As far as described.
    findings : sequence of Finding
        With ids; a missing id is given here in order: "f1", "f2" …
    history : History

    Returns
    -------
    Diagnosis

    Raises
    ------
    InputError
        For a finding at a place this engine does not have.
    """
    named = tuple(f if f.id else f.with_id(f"f{i}") for i, f in enumerate(findings, start=1))
    post = posterior(engine, named, history)
    named = _with_doubts(post, named)
    order = sorted(post.log_mass, key=lambda name: (-post.log_mass[name], str(name)))
    ids = _names(order)
    listed: list[Key | str] = [name for name in order if not isinstance(name, str)]
    listed += OTHERS
    done = [query_of(finding) for finding in named]
    shown = [name for name in order if not isinstance(name, str) and post.probability(name) > _SHOWN][:_MOST_SHOWN]
    shows: dict[Key | str, tuple[Expected, ...]] = {name: also_shows(post, name, done) for name in shown}
    hypotheses = tuple(_hypothesis(post, name, ids[name], shows.get(name, ())) for name in listed)
    groups = groups_of(post, ids)
    leader = order[0]
    fit = fit_of(post, leader)
    weighed = post.worlds[0].findings.all
    weights = weights_of(post, weighed, order, ids)
    apart = inseparable_from_leader(weights, groups)
    spoken_against = ruled_out(post, order)
    vain = _in_vain(post, history)
    steps = step_fits(post)
    labels, mass = step_set(post)
    belief = Belief(
        hypotheses=hypotheses,
        groups=groups,
        verdict=verdict_of(hypotheses, groups, fit, apart, history.complaint_seen, cleared_systems(post)),
        weights=weights,
        fit=fit,
        assumed=assumed_numbers(post),
        inseparable=apart,
        steps=steps,
        step_set=labels,
        step_mass=mass,
        notes=(*(_vain_words(one) for one in vain), *_strange_repairs(post, history), *_notes(post)),
        firmness=firmness_of(post),
        tells=tells_of(post, [*_told(weights, ids, order), *spoken_against], ids),
        ruled_out=tuple(ids[name] for name in spoken_against),
        in_vain=vain,
    )
    failed = tuple(work for work in history.done if work.is_repair and work.cured is False)
    return Diagnosis(belief, post, tuple(order), named, failed)


def _with_doubts(post: Posterior, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    doubts = {f.id: f.doubt for world in post.worlds for f in world.findings.measured if f.doubt is not None}
    return tuple(replace(f, doubt=doubts[f.id]) if f.id in doubts else f for f in findings)


def _told(weights: Sequence[Weight], ids: dict[Key | str, str], order: Sequence[Key | str]) -> list[Key | str]:
    """Hypotheses whose expectations are told: the leader, those it was weighed against, and the sound vehicle."""
    weighed = {weight.rival for weight in weights}
    return [name for name in order if name == order[0] or ids[name] in weighed or name == "nothing_wrong"]


def _names(order: Sequence[Key | str]) -> dict[Key | str, str]:
    ids: dict[Key | str, str] = {}
    number = 0
    for name in order:
        if isinstance(name, str):
            ids[name] = name
        else:
            number += 1
            ids[name] = f"h{number}"
    return ids


def _hypothesis(post: Posterior, name: Key | str, label: str, shows: tuple[Expected, ...]) -> Hypothesis:
    faults = () if isinstance(name, str) else faults_of(post, name)
    log_evidence = post.log_mass[name] - post.log_prior[name]
    return Hypothesis(
        label, faults, post.probability(name), prior_share(post, name), log_evidence, words_of(post, name), shows
    )


def _in_vain(post: Posterior, history: History) -> tuple[InVain, ...]:
    """What is left for every part that was renewed, and every repair that was done, without cure."""
    found = []
    for number, work in enumerate(history.done, start=1):
        if work.verb in ("fitted", REPAIR) and work.cured is False:
            left = sum(post.probability(key) for key in post.log_mass if any(_cures(post, work, p) for p in key))
            found.append(InVain(f"d{number}", _done_words(post, work), left))
    return tuple(found)


def _done_words(post: Posterior, work: Work) -> str:
    """What was done, in words: of a repair those that the answer had for it."""
    known = {instance.repair_key: instance.repair_words for instance in post.instances.values()}
    if not all(one in known for one in work.repairs):
        return work.words
    return f"{' and '.join(f'“{known[one]}”' for one in work.repairs)} done" if work.is_repair else work.words


def _vain_words(one: InVain) -> str:
    return f"{one.words[0].upper()}{one.words[1:]} without cure: {percent(one.probability)} is left for it."


def _cures(post: Posterior, work: Work, part: object) -> bool:
    """Whether renewing the part would have cured one fault of a hypothesis."""
    instance = post.instances.get(part) if isinstance(part, tuple) else None
    return instance is not None and would_cure(instance, work)


def _strange_repairs(post: Posterior, history: History) -> tuple[str, ...]:
    """Repairs that were told by a name that nothing on this engine has."""
    known = {instance.repair_key for instance in post.instances.values()}
    names = sorted(":".join(key) for key in known)
    strange = [":".join(one) for work in history.done for one in work.repairs if one not in known and one[1] != ALL]
    return tuple(
        f"Repair {name}: kept, not weighed; nothing here has it{f', nearest: {near[0]}' if near else ''}."
        for name, near in ((name, nearest(name, names)) for name in strange)
    )


_MOST_NAMED = 12  # in a note


def _notes(post: Posterior) -> tuple[str, ...]:
    """What was kept but not weighed: one line for each reason."""
    best = max(range(len(post.worlds)), key=lambda i: float(post.world_mass[i]))
    gathered: dict[str, list[Finding]] = {}
    for finding, reason in post.worlds[best].findings.unweighed:
        gathered.setdefault(reason, []).append(finding)
    return tuple(f"{_named(findings)}: kept, not weighed; {reason}." for reason, findings in gathered.items())


def _named(findings: Sequence[Finding]) -> str:
    """Quantities and codes by name, with how many findings they are."""
    named = {str(f.place.get("code")) if f.quantity == "code_state" else f.quantity.replace("_", " ") for f in findings}
    said = sorted(named)[:_MOST_NAMED]
    more = f" and {len(named) - _MOST_NAMED} more" if len(named) > _MOST_NAMED else ""
    return f"{', '.join(said)}{more} ({findings[0].id if len(findings) == 1 else f'{len(findings)} findings'})"
