"""From the cloud of weighted points to what people read: sizes, groups, assumed numbers, whole steps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import FaultInstance, Term
from witnessmark.catalogue.places import stage_words
from witnessmark.engine.state import state_variables
from witnessmark.infer.belief import Assumed, FaultAt, Group, ParameterEstimate, StepFit
from witnessmark.infer.components import Component, Key, Rows
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.posterior import Cloud, Posterior

__all__ = [
    "assumed_numbers",
    "clouds_of",
    "faults_of",
    "group_of",
    "groups_of",
    "history_factor",
    "history_words",
    "percent",
    "prior_share",
    "repair_of",
    "step_fits",
    "step_set",
    "words_of",
]

Array = NDArray[np.float64]
_SHOWN_STEP = 0.002  # of the whole-step mass
_SET_MASS = 0.9
_HEAVY = 1e-4  # posterior mass below which a cloud is not looked at again
_POINTS = 12  # heaviest points that stand for a cloud


def words_of(post: Posterior, name: Key | str) -> str:
    """A hypothesis in words.

    Parameters
    ----------
    post : Posterior
    name : hypothesis

    Returns
    -------
    str
    """
    if isinstance(name, str):
        return {
            "nothing_wrong": "Nothing wrong",
            "elsewhere": "Elsewhere: a cause that these findings would not show",
            "none_of_these": "None of these: something this list does not know",
        }[name]
    return " and ".join(
        text if i == 0 else text[0].lower() + text[1:]
        for i, text in enumerate(post.instances[part].words for part in name)
    )


def clouds_of(post: Posterior, name: Key) -> list[Cloud]:
    """The clouds of one hypothesis.

    Parameters
    ----------
    post : Posterior
    name : Key

    Returns
    -------
    list of Cloud
    """
    return post.clouds_by_key.get(name, [])


def faults_of(post: Posterior, name: Key) -> tuple[FaultAt, ...]:
    """The faults of a hypothesis with their sizes, posterior mean and spread.

    Parameters
    ----------
    post : Posterior
    name : Key

    Returns
    -------
    tuple of FaultAt
        Where either sign is possible, the size on the likelier side.
    """
    clouds = clouds_of(post, name)
    found = []
    for index, part in enumerate(name):
        instance = post.instances[part]
        sizes = _sizes(clouds, index)
        units = {v: state_variables()[v].unit for v in sizes}
        parameters = tuple(ParameterEstimate(v, m, s, units[v]) for v, (m, s) in sizes.items())
        found.append(FaultAt(instance.row.id, ((instance.where.key, instance.where.id),), parameters, instance.words))
    return tuple(found)


def _sizes(clouds: Iterable[Cloud], index: int) -> dict[str, tuple[float, float]]:
    """Mean and spread of each edited variable of one of a hypothesis' faults."""
    gathered: dict[str, list[tuple[Array, Array]]] = {}
    for cloud in clouds:
        component = cloud.integrated.component
        first = sum(len(kind.axes) for kind in component.kinds[:index])
        kind = component.kinds[index]
        seen = set()
        for term in kind.terms:
            if term.variable in seen:
                continue
            seen.add(term.variable)
            share = cloud.integrated.share
            amount = np.full(len(share), term.amount)
            if term.axis is not None:
                column = share[:, first + term.axis]
                if len(column) and not np.ptp(column) and column[0] == 0.5:
                    continue  # nothing found says how large it is
                amount = term.amount * kind.axes[term.axis].at(column)
            gathered.setdefault(term.variable, []).append((amount, cloud.log_weight))
    result = {}
    for variable, parts in gathered.items():
        values = np.concatenate([a for a, _ in parts])
        logs = np.concatenate([w for _, w in parts])
        if not np.ptp(values):  # a fixed edit: no rounding may make a spread of it
            result[variable] = (float(values[0]), 0.0)
            continue
        weight = np.exp(logs - log_sum(logs))
        # Where both signs are possible the likelier one is told, not a mean between the two.
        early = float(weight[values > 0.0].sum())
        weight = np.where((values > 0.0) == (early >= 0.5), weight, 0.0)
        weight = weight / weight.sum()
        mean = float(weight @ values)
        result[variable] = (mean, float(np.sqrt(max(weight @ (values - mean) ** 2, 0.0))))
    return result


def group_of(post: Posterior, name: Key | str) -> tuple[tuple[str, str], ...] | str:
    """The repair that cures a hypothesis: what hypotheses are grouped by.

    Parameters
    ----------
    post : Posterior
    name : hypothesis

    Returns
    -------
    tuple of (job, scope), or str
        The name itself where it is no fault.
    """
    if isinstance(name, str):
        return name
    return tuple(sorted({post.instances[part].repair_key for part in name}))


def groups_of(post: Posterior, ids: Mapping[Key | str, str]) -> tuple[Group, ...]:
    """Hypotheses grouped by repair, by falling probability.

    Parameters
    ----------
    post : Posterior
    ids : mapping
        Names of all hypotheses in the answer.

    Returns
    -------
    tuple of Group
    """
    members: dict[tuple[tuple[str, str], ...], list[Key]] = {}
    for name in ids:
        if not isinstance(name, str):
            group = group_of(post, name)
            assert not isinstance(group, str)
            members.setdefault(group, []).append(name)
    mass = {group: sum(post.probability(name) for name in names) for group, names in members.items()}
    found = []
    for k, group in enumerate(sorted(members, key=lambda g: -mass[g]), start=1):
        names = sorted(members[group], key=lambda n: -post.probability(n))
        found.append(replace(repair_of(post, names), id=f"g{k}", hypotheses=tuple(ids[n] for n in names)))
    return tuple(found)


def repair_of(post: Posterior, names: Sequence[Key]) -> Group:
    """The repair that hypotheses of one group share, unnamed.

    Parameters
    ----------
    post : Posterior
    names : sequence of Key
        Of one repair.

    Returns
    -------
    Group
        With the probability of all of them.
    """
    repairs = _repairs(post, names)
    low, usual, high = (float(sum(r.row.repair.minutes[i] for r in repairs)) for i in range(3))
    success = float(np.prod([r.row.repair.success for r in repairs]))
    words = "; ".join(dict.fromkeys(r.repair_words for r in repairs))
    cause = " and ".join(dict.fromkeys(r.cause_words for r in repairs))
    group = group_of(post, names[0])
    assert not isinstance(group, str)
    repair = "+".join(f"{job}:{scope}" for job, scope in group)
    mass = sum(post.probability(name) for name in names if name in post.log_mass)
    return Group("", repair, words, (), mass, (low, usual, high), success, cause)


def _repairs(post: Posterior, names: Sequence[Key]) -> list[FaultInstance]:
    """One instance for each different repair of a group."""
    found: dict[tuple[str, str], FaultInstance] = {}
    for name in names:
        for part in name:
            found.setdefault(post.instances[part].repair_key, post.instances[part])
    return list(found.values())


def _mutual_bits(joint: Array) -> float:
    """Mutual information of a joint table, in bits."""
    joint = joint / joint.sum()
    product = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    inside = joint > 0.0
    return float(max(np.sum(joint[inside] * np.log2(joint[inside] / product[inside])), 0.0))


@dataclass(frozen=True, slots=True)
class _Mass:
    """Posterior mass of one (world, group)."""

    world: int
    group: int
    mass: float


def _masses(post: Posterior) -> tuple[list[_Mass], int]:
    numbers: dict[object, int] = {}
    found = []
    total = post.log_total
    for cloud in post.clouds:
        group = numbers.setdefault(group_of(post, cloud.integrated.component.key), len(numbers))
        found.append(_Mass(cloud.world, group, float(np.exp(cloud.log_total - total))))
    for (world, name), value in post.other_log_mass.items():
        found.append(_Mass(world, numbers.setdefault(name, len(numbers)), float(np.exp(value - total))))
    return found, len(numbers)


_WORDS = {
    "drive.layout": "How the cams are driven",
    "reporting.sign": "Which sign the computer gives an early cam",
    "reporting.a_is": "Which cam the maker calls A",
    "air.metering": "How the computer knows the air: by a meter, or by pressure",
    "air.boost": "Whether it has a charger",
    "air.injection": "Where the fuel is injected",
}


def assumed_numbers(post: Posterior) -> tuple[Assumed, ...]:
    """What the description leaves open, what was taken, and how many bits about the repair it is worth.

    Parameters
    ----------
    post : Posterior

    Returns
    -------
    tuple of Assumed
        The most telling first.
    """
    masses, n_groups = _masses(post)
    found = []
    numbers = dict.fromkeys(number for world in post.worlds for number, _ in world.candidate.taken)
    for number in numbers:
        values: dict[str, int] = {}
        for world in post.worlds:
            values.setdefault(dict(world.candidate.taken).get(number, "as described"), len(values))
        joint = np.zeros((len(values), n_groups))
        for m in masses:
            value = dict(post.worlds[m.world].candidate.taken).get(number, "as described")
            joint[values[value], m.group] += m.mass
        found.append(
            Assumed(number, _taken(joint.sum(axis=1), values), _mutual_bits(joint), _WORDS.get(number, number))
        )
    found += _assumed_steps(post, n_groups)
    found += _assumed_naming(post, n_groups)
    return tuple(sorted(found, key=lambda a: -a.worth_bits))


def _taken(shares: Array, values: Mapping[str, int]) -> str:
    names = sorted(values, key=lambda v: -shares[values[v]])
    words = [f"{name} ({100 * shares[values[name]] / shares.sum():.0f} %)" for name in names[:3]]
    return ", ".join(words) + (", …" if len(names) > 3 else "")


def _assumed_steps(post: Posterior, n_groups: int) -> list[Assumed]:
    """Tooth counts: what each count would say about the repair."""
    stages = dict.fromkeys(
        stage for world in post.worlds for stage, steps in world.model.steps.items() if not steps.is_exact
    )
    found = []
    for stage in stages:
        joint, labels = _step_joint(post, stage, n_groups)
        if not labels:
            continue
        words = f"Teeth of a sprocket of the {stage.replace('_', ' ')} stage"
        taken = f"{labels[0]} to {labels[-1].split()[-1]}, with usual odds"
        found.append(Assumed(f"drive.{stage}.teeth", taken, _mutual_bits(joint), words))
    return found


def _step_joint(post: Posterior, stage: str, n_groups: int) -> tuple[Array, list[str]]:
    labels: dict[str, int] = {}
    weights: dict[str, float] = {}
    for world in post.worlds:
        steps = world.model.steps.get(stage)
        if steps is not None and not steps.is_exact:
            for label, weight in zip(steps.labels, steps.weights, strict=True):
                labels.setdefault(label, len(labels))
                weights.setdefault(label, weight)
    joint = np.zeros((len(labels), n_groups))
    numbers: dict[object, int] = {}
    total = post.log_total
    even = np.array([weights[label] for label in labels])
    even = even / even.sum() if len(even) else even
    for cloud in post.clouds:
        group = numbers.setdefault(group_of(post, cloud.integrated.component.key), len(numbers))
        if not _depends_on(cloud.integrated.component, stage):
            joint[:, group] += even * float(np.exp(cloud.log_total - total))
            continue
        mass = np.exp(cloud.by_choice - total)
        for choice, share in zip(cloud.integrated.component.choices, mass, strict=True):
            label = choice.label.split(" and ")[0]
            if label in labels:
                joint[labels[label], group] += float(share)
    for (_, name), value in post.other_log_mass.items():
        joint[:, numbers.setdefault(name, len(numbers))] += even * float(np.exp(value - total))
    return joint, list(labels)


def _depends_on(component: Component, stage: str) -> bool:
    return any(key == f"step:{stage}" for choice in component.choices for key, _ in choice.numbers)


def _assumed_naming(post: Posterior, n_groups: int) -> list[Assumed]:
    """Which cam A is, judged by the codes on the heaviest points."""
    first = post.worlds[0]
    if len(first.namings) < 2 or not first.findings.codes:
        return []
    numbers: dict[object, int] = {}
    joint = np.zeros((len(first.namings), n_groups))
    total = post.log_total
    for index, world in enumerate(post.worlds):
        batch, groups, masses = [], [], []
        for cloud in post.clouds:
            if cloud.world != index or cloud.log_total - total < np.log(_HEAVY):
                continue
            best = np.argsort(-cloud.log_weight)[:_POINTS]
            integrated = cloud.integrated
            batch.append(Rows(integrated.component, integrated.share[best], integrated.choice[best]))
            weight = np.exp(cloud.log_weight[best] - np.max(cloud.log_weight))
            masses.append(weight / weight.sum() * np.exp(cloud.log_total - total))
            group = numbers.setdefault(group_of(post, integrated.component.key), len(numbers))
            groups.append(np.full(len(best), group))
        if batch:
            shares = world.naming_shares(batch) * np.concatenate(masses)[:, None]
            np.add.at(joint.T, np.concatenate(groups), shares)
    if not joint.sum() > 0.0:
        return []
    names = {f"A is the {kind} cam": i for i, kind in enumerate(("intake", "exhaust"))}
    return [Assumed("reporting.a_is", _taken(joint.sum(axis=1), names), _mutual_bits(joint), _WORDS["reporting.a_is"])]


def _step_clouds(post: Posterior) -> list[Cloud]:
    return [
        cloud
        for cloud in post.clouds
        if len(cloud.integrated.component.key) == 1
        and any(t.variable == "pitch_slip" for t in cloud.integrated.component.kinds[0].terms)
    ]


def step_fits(post: Posterior) -> tuple[StepFit, ...]:
    """How well whole pitches explain the readings, for every stage and plausible tooth count.

    Parameters
    ----------
    post : Posterior

    Returns
    -------
    tuple of StepFit
        By falling share of all whole-step explanations.
    """
    clouds = _step_clouds(post)
    angles = any(f.unit == "deg" for world in post.worlds for f in world.findings.measured)
    if not clouds or not angles:
        return ()
    rows: dict[tuple[str, str, int], list[tuple[float, float, float, float]]] = {}
    log_all = float(log_sum(np.array([cloud.log_total for cloud in clouds])))
    for index, world in enumerate(post.worlds):
        mine = [c for c in clouds if c.world == index and c.log_total - log_all > np.log(_HEAVY)]
        batch = [_best_rows(cloud) for cloud in mine]
        fits = iter(world.residuals(batch) if batch else ())
        for cloud, best in zip(mine, batch, strict=True):
            term = _slip_term(cloud.integrated.component)
            assert world.model.engine.drive is not None
            stage = world.model.engine.drive.stage(term.place.split(".", 1)[0])
            for pick in best.choice:
                choice = best.component.choices[pick]
                share = float(np.exp(cloud.by_choice[pick] - log_all))
                key = (stage_words(world.model.engine, stage), choice.label, int(term.amount))
                rows.setdefault(key, []).append((share, choice.numbers[0][1], *next(fits)))
    found = []
    for (stage_name, teeth, pitches), parts in rows.items():
        share = sum(p[0] for p in parts)
        _, step, residual, z = max(parts)
        found.append(StepFit(stage_name, teeth, pitches, step, residual, z, share))
    return tuple(sorted((f for f in found if f.probability > _SHOWN_STEP), key=lambda f: -f.probability))


def _slip_term(component: Component) -> Term:
    return next(t for t in component.kinds[0].terms if t.variable == "pitch_slip")


def _best_rows(cloud: Cloud) -> Rows:
    """The heaviest point of every choice."""
    choice = cloud.integrated.choice
    order = np.argsort(-cloud.log_weight, kind="stable")
    _, first = np.unique(choice[order], return_index=True)
    best = order[first]
    return Rows(cloud.integrated.component, cloud.integrated.share[best], choice[best])


def step_set(post: Posterior, mass: float = _SET_MASS) -> tuple[tuple[str, ...], float]:
    """The smallest set of tooth counts that holds a share of what whole steps explain.

    Parameters
    ----------
    post : Posterior
    mass : float [-]
        Wanted share of the whole-step probability.

    Returns
    -------
    tuple of (labels, float [-])
        Labels "primary: crank 20", and the share they truly hold.
    """
    clouds = _step_clouds(post)
    if not clouds:
        return (), 0.0
    logs: dict[str, list[float]] = {}
    for cloud in clouds:
        component = cloud.integrated.component
        stage = _slip_term(component).place.split(".", 1)[0]
        for choice, log_share in zip(component.choices, cloud.by_choice, strict=True):
            logs.setdefault(f"{stage}: {choice.label}", []).append(float(log_share))
    totals = {label: float(log_sum(np.array(values))) for label, values in logs.items()}
    whole = float(log_sum(np.array(list(totals.values()))))
    shares = {label: float(np.exp(value - whole)) for label, value in totals.items()}
    chosen, held = [], 0.0
    for label in sorted(shares, key=lambda name: -shares[name]):
        chosen.append(label)
        held += shares[label]
        if held >= mass:
            break
    return tuple(chosen), held


def prior_share(post: Posterior, name: Key | str) -> float:
    """Prior probability of one hypothesis.

    Parameters
    ----------
    post : Posterior
    name : hypothesis

    Returns
    -------
    float, shape () [-]
    """
    return float(np.exp(post.log_prior[name] - post.log_prior_total))


def percent(share: float) -> str:
    """A share as people write it: "97 %", never surer than that.

    Parameters
    ----------
    share : float [-]

    Returns
    -------
    str
    """
    if share > 0.995:
        return "> 99 %"
    return "< 1 %" if share < 0.005 else f"{100.0 * share:.0f} %"


def history_words(post: Posterior, leader: Key | str, rival: Key | str) -> str:
    """What moved the prior of either of two hypotheses, in words.

    Parameters
    ----------
    post : Posterior
    leader, rival : hypothesis

    Returns
    -------
    str
    """
    told: dict[str, None] = {}
    for name in (leader, rival):
        if not isinstance(name, str):
            told.update(dict.fromkeys(words for part in name for words, _ in post.priors[part].moved_by))
    words = "; ".join(list(told)[:3])
    return words[:1].upper() + words[1:] if words else "What is known of the vehicle"


def history_factor(post: Posterior, name: Key | str) -> float:
    """By how much history moved a hypothesis' prior weight.

    Parameters
    ----------
    post : Posterior
    name : hypothesis

    Returns
    -------
    float, shape () [-]
    """
    if isinstance(name, str):
        return 1.0
    return float(np.prod([moved for part in name for _, moved in post.priors[part].moved_by]))
