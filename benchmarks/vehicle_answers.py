"""What the program says of simulated vehicles: the posterior's first-named repairs, the verdict, processor time.

The program is told what a technician would be: the engine as far as described, the findings with their usual spreads,
the past. A repair's probability is that of all hypotheses that hold it, so that a second fault, seen or not, takes
nothing from it.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import asdict

from benchmarks.shards import Row
from benchmarks.vehicles.batch import Batch
from benchmarks.vehicles.generate import Key, Vehicle
from benchmarks.vehicles.law import History as Past
from witnessmark.finding import Finding
from witnessmark.infer.belief import Hypothesis
from witnessmark.infer.cleared import cleared_systems
from witnessmark.infer.explain import fit_of, verdict_of
from witnessmark.infer.history import History, Work
from witnessmark.infer.posterior import OTHERS, Posterior, posterior
from witnessmark.infer.summary import groups_of

__all__ = ["answers_of", "kind_of", "one_batch", "past_of", "words_of"]

_SHOWN = 8  # repairs, and hypotheses, kept of each answer


def one_batch(seed: int) -> Iterator[Row]:
    """The program's answers on a batch.

    Parameters
    ----------
    seed : int
    """
    yield from answers_of(Batch.of(seed))


def answers_of(batch: Batch) -> Iterator[Row]:
    """The program's answers, a row a vehicle."""
    for number, vehicle in enumerate(batch.vehicles):
        variant = batch.variants[vehicle.variant]
        findings = [one.with_id(f"f{k}") for k, one in enumerate(vehicle.findings(variant), start=1)]
        start = time.process_time()
        found = posterior(batch.known.told, findings, past_of(vehicle))
        done = time.process_time()
        repairs = {one.key: ":".join(one.repair_key) for one in variant.instances}
        yield {
            "number": number, "set": batch.law.name, "engine": batch.known.label, "truth": words_of(vehicle.truth),
            "kind": kind_of(vehicle.truth), "asleep": vehicle.asleep, "complaint": vehicle.complaint,
            "history": vehicle.history.as_row(), "sizes": _sizes(vehicle), "findings": [_finding(f) for f in findings],
            "repairs": [] if isinstance(vehicle.truth, str) else sorted({repairs[part] for part in vehicle.truth}),
            **_answer(found, vehicle), "answered_s": round(done - start, 3),
        }  # fmt: skip


def past_of(vehicle: Vehicle) -> History:
    """A vehicle's past as the program takes it."""
    past: Past = vehicle.history
    row = past.as_row()
    done = tuple(Work(**{str(name): value for name, value in one.items()}) for one in row["done"])  # type: ignore[attr-defined]
    return History(done, frozenset(row["when"]), dict(row["known"]), vehicle.complaint)  # type: ignore[call-overload]


def _answer(found: Posterior, vehicle: Vehicle) -> Row:
    chance = {name: found.probability(name) for name in found.log_mass}
    order = sorted(chance, key=lambda name: (-chance[name], str(name)))
    ids = {name: name if isinstance(name, str) else f"h{k}" for k, name in enumerate(order)}
    listed = [name for name in order if not isinstance(name, str)] + list(OTHERS)
    hypotheses = tuple(Hypothesis(ids[n], (), chance[n], 0.0, 0.0, "") for n in listed)
    groups = groups_of(found, ids)
    verdict = verdict_of(hypotheses, groups, fit_of(found, order[0]), (), vehicle.complaint, cleared_systems(found))
    held: dict[str, float] = {name: chance[name] for name in OTHERS}
    for name, share in chance.items():
        if not isinstance(name, str):
            for repair in {":".join(found.instances[part].repair_key) for part in name}:
                held[repair] = held.get(repair, 0.0) + share
    # A fault that none of the findings would show is no hypothesis of its own: it counts as "elsewhere".
    hidden = [] if isinstance(vehicle.truth, str) else [part for part in vehicle.truth if (part,) not in chance]
    return {
        "held": {name: round(held[name], 5) for name in sorted(held, key=lambda n: -held[n])[:_SHOWN]},
        "others": {name: round(chance[name], 5) for name in OTHERS},
        "groups": [[group.repair, round(group.probability, 5)] for group in groups[:3]],
        "named": {words_of(name): round(chance[name], 5) for name in order[:_SHOWN]},
        "truth_p": round(chance.get(vehicle.truth, 0.0), 6), "hidden": [" ".join(part) for part in hidden],
        "verdict": {k: v for k, v in asdict(verdict).items() if k in ("kind", "group")},
    }  # fmt: skip


def _sizes(vehicle: Vehicle) -> list[dict[str, float]]:
    return [
        {axis.variable: round(float(size), 4) for axis, size in zip(kind.axes, sizes, strict=True)}
        for kind, sizes in vehicle.way
    ]


def _finding(finding: Finding) -> list[object]:
    """Short: quantity, place, condition, value, spread."""
    where = {str(name): value for name, value in finding.place.as_dict().items()}
    return [finding.quantity, where, {k: v for k, v in finding.condition.as_dict().items() if v},
            float(f"{finding.value:.5g}"), float(f"{finding.sd:.3g}")]  # fmt: skip


def words_of(key: Key | str) -> str:
    """A hypothesis in words: its faults with their places."""
    return key if isinstance(key, str) else " + ".join(" ".join(part) for part in key)  # type: ignore[arg-type]


def kind_of(key: Key) -> str:
    """Fault kind, or what else is wrong."""
    return key if isinstance(key, str) else key[0][0] if len(key) == 1 else "two at once"
