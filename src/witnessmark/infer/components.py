"""Hypotheses split into components: everything discrete fixed, only severities left to integrate.

One hypothesis (a fault at a place, or two) has a component for each candidate engine it is
considered on, each sign or whole step, and each pattern of being awake. Inside a component
the assumed tooth counts and path lengths are a short list of choices.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Axis, FaultInstance, Kind
from witnessmark.engine.state import State, state_variables
from witnessmark.finding import Finding
from witnessmark.predict import DriveModel, Nuisance
from witnessmark.predict.model import Numbers

__all__ = [
    "NO_CHOICE",
    "SOUND",
    "Choice",
    "Component",
    "Key",
    "Rows",
    "assemble",
    "awake_patterns",
    "choices_of",
    "single_components",
]

Array = NDArray[np.float64]
Key = tuple[tuple[str, str], ...]  # ((fault id, place id), …); () is healthy


@dataclass(frozen=True, slots=True)
class Choice:
    """One set of assumed description numbers, with its odds and its label.

    Parameters
    ----------
    weight : float [-]
    numbers : tuple of (str, float), shape (n,)
        Key and value, in the number's unit.
    label : str
    """

    weight: float
    numbers: tuple[tuple[str, float], ...] = ()
    label: str = ""


NO_CHOICE = (Choice(1.0),)
_WIDE_COMMAND_DEG = 5.0  # an idle command not said to be parked is narrower than this


@dataclass(frozen=True, slots=True)
class Component:
    """One way the world may be, up to severities.

    Parameters
    ----------
    key : Key
        The hypothesis it belongs to.
    instances : tuple of FaultInstance
    kinds : tuple of Kind
        One for each instance.
    choices : tuple of Choice
    asleep : tuple of int
        Indices of findings taken while the fault slept.
    log_weight : float [nat]
        Log prior of this component, candidate engine included.
    """

    key: Key
    instances: tuple[FaultInstance, ...]
    kinds: tuple[Kind, ...]
    choices: tuple[Choice, ...]
    asleep: tuple[int, ...]
    log_weight: float

    @property
    def axes(self) -> tuple[Axis, ...]:
        """All severities, the first instance's first."""
        return tuple(axis for kind in self.kinds for axis in kind.axes)


@dataclass(frozen=True, slots=True)
class Rows:
    """Points of one component to be evaluated: shares of each axis' prior, and a choice.

    Parameters
    ----------
    component : Component
    share : ndarray, shape (n, number of axes)
        0..1 along each axis' prior.
    choice : ndarray of int, shape (n,)
    """

    component: Component
    share: Array
    choice: NDArray[np.intp]


SOUND = Rows(Component((), (), (), NO_CHOICE, (), 0.0), np.zeros((1, 0)), np.zeros(1, dtype=np.intp))
"""The sound engine, as one row."""


def single_components(
    model: DriveModel,
    instance: FaultInstance,
    log_prior: float,
    patterns: Sequence[tuple[float, tuple[int, ...]]],
    commands: Sequence[Nuisance] = (),
) -> list[Component]:
    """All components of one fault instance on one candidate engine.

    Parameters
    ----------
    model : DriveModel
    instance : FaultInstance
    log_prior : float [nat]
        Of the instance, candidate engine included.
    patterns : sequence of (weight [-], findings asleep)
    commands : sequence of Nuisance
        Phaser commands that the findings' conditions leave open.

    Returns
    -------
    list of Component
    """
    found = []
    key, alone = (instance.key,), (instance,)
    for kind in instance.kinds:
        choices = choices_of(model, kind, commands)
        for weight, asleep in patterns:
            log_weight = log_prior + log(kind.weight) + log(weight)
            found.append(Component(key, alone, (kind,), choices, asleep, log_weight))
    return found


_HANG_ON_NUMBERS = frozenset(("phaser_gain", "spool_offset", "pitch_slip", "elongation"))


def choices_of(model: DriveModel, kind: Kind, commands: Sequence[Nuisance]) -> tuple[Choice, ...]:
    """Assumed numbers that the effect of a way hangs on.

    Parameters
    ----------
    model : DriveModel
    kind : Kind
    commands : sequence of Nuisance
        Phaser commands that the findings' conditions leave open.

    Returns
    -------
    tuple of Choice
        Tooth counts where a whole pitch is at stake; the tight path's proportions where wear is; the command where a
        phaser no longer follows it; else one choice that assumes nothing.
    """
    if not any(term.variable in _HANG_ON_NUMBERS for term in kind.terms):
        return NO_CHOICE
    deaf = {t.place for t in kind.terms if t.variable in ("phaser_gain", "spool_offset")}
    heard = [command for command in commands if command.variable.split(":")[1] in deaf]
    if heard:
        return _command_choices(heard)
    slipped = {t.place.split(".", 1)[0] for t in kind.terms if t.variable == "pitch_slip"}
    if slipped:
        stage = slipped.pop()
        steps = model.steps[stage]
        if steps.is_exact:
            return (Choice(1.0, ((f"step:{stage}", steps.deg[0]),), steps.labels[0]),)
        rows = zip(steps.deg, steps.weights, steps.labels, strict=True)
        return tuple(Choice(weight, ((f"step:{stage}", deg),), label) for deg, weight, label in rows)
    worn = {t.place for t in kind.terms if t.variable == "elongation"}
    return _tight_choices(model, worn.pop()) if worn else NO_CHOICE


def _command_choices(commands: Sequence[Nuisance]) -> tuple[Choice, ...]:
    """Even nodes over each command's range: mean ± √3 spreads, the ends of an even distribution."""
    used = commands[:2]
    # One wide command needs nodes no further apart than what reads it is sharp: 5 over 50 degrees cost a stuck phaser
    # 12 decibans against the reference (benchmarks/against_reference.py, seed 10001).
    wide = sum(command.sd > _WIDE_COMMAND_DEG for command in used)
    most = 5 if wide == 2 else 12 if len(used) == 1 else 10
    axes = []
    for command in used:
        count = most if command.sd > _WIDE_COMMAND_DEG else 2
        nodes = (2.0 * np.arange(count) + 1.0) / count - 1.0
        axes.append([(command.variable, float(command.mean + 3.0**0.5 * command.sd * node)) for node in nodes])
    combined = list(itertools.product(*axes))
    return tuple(Choice(1.0 / len(combined), tuple(numbers)) for numbers in combined)


def _tight_choices(model: DriveModel, stage_id: str) -> tuple[Choice, ...]:
    """Short, usual and long spans beyond the first, where only a range is known."""
    assert model.engine.drive is not None
    stage = model.engine.drive.stage(stage_id)
    pitch = stage.pitch_mm.mean or 8.0
    open_spans = [s for s in stage.driven[1:] if s.tight_mm.exact is None]
    if not open_spans:
        return NO_CHOICE
    found = []
    for share, weight in ((0.15, 0.3), (0.5, 0.4), (0.85, 0.3)):
        numbers = []
        for sprocket in open_spans:
            low, high = sprocket.tight_mm.low or 8.0 * 8, sprocket.tight_mm.high or 8.0 * 18
            numbers.append((f"tight:{stage.mesh(sprocket.shaft)}", (low + share * (high - low)) / pitch))
        found.append(Choice(weight, tuple(numbers)))
    return tuple(found)


# Chance that an intermittent fault was awake when a finding was taken, by whether the complaint
# was there; our guess.
_AWAKE = {"present": 0.95, None: 0.6, "absent": 0.1}


def awake_patterns(findings: Sequence[Finding], onset: str) -> list[tuple[float, tuple[int, ...]]]:
    """Which findings an intermittent fault may have slept through, with odds.

    Findings taken with the complaint present, absent, or not known are three episodes; within
    one the fault is awake or not (docs/reasoning.md, "faults that come and go").

    Parameters
    ----------
    findings : sequence of Finding
    onset : str
        The row's onset letters; without "I" a fault is always awake.

    Returns
    -------
    list of (weight [-], indices asleep)
    """
    if "I" not in onset or not findings:
        return [(1.0, ())]
    groups: dict[str | None, list[int]] = {}
    for i, finding in enumerate(findings):
        groups.setdefault(finding.condition.complaint, []).append(i)
    found = []
    for awake in itertools.product((True, False), repeat=len(groups)):
        weight = 1.0
        asleep: list[int] = []
        for (state, members), is_awake in zip(groups.items(), awake, strict=True):
            weight *= _AWAKE[state] if is_awake else 1.0 - _AWAKE[state]
            asleep += [] if is_awake else members
        found.append((weight, tuple(sorted(asleep))))
    return found


def assemble(batch: Sequence[Rows]) -> tuple[State, Numbers, int]:
    """One state and one set of numbers holding all rows of a batch side by side.

    Parameters
    ----------
    batch : sequence of Rows

    Returns
    -------
    state : State
    numbers : mapping of str to ndarray, shape (n,)
        NaN-free: rows that assume nothing keep the mean where a number is assumed by others.
    rows : int
        n, in the order of the batch.
    """
    total = sum(len(rows.choice) for rows in batch)
    edits: dict[tuple[str, str], Array] = {}
    numbers: dict[str, Array] = {}
    known = state_variables()
    start = 0
    for rows in batch:
        stop = start + len(rows.choice)
        first = 0
        for kind in rows.component.kinds:
            last = first + len(kind.axes)
            theta = (
                np.stack([axis.at(rows.share[:, first + k]) for k, axis in enumerate(kind.axes)], axis=1)
                if kind.axes
                else np.zeros((stop - start, 0))
            )
            for variable, place, op, amount in kind.changes(theta):
                values = edits.setdefault((variable, place), np.full(total, known[variable].healthy))
                part = values[start:stop]
                values[start:stop] = part + amount if op == "add" else part * amount if op == "multiply" else amount
            first = last
        _assume(rows, numbers, start, stop, total)
        start = stop
    return State(edits), numbers, total


def _assume(rows: Rows, numbers: dict[str, Array], start: int, stop: int, total: int) -> None:
    choices = rows.component.choices
    for key in {key for choice in choices for key, _ in choice.numbers}:
        usual = float(np.dot([c.weight for c in choices], [dict(c.numbers).get(key, 0.0) for c in choices]))
        column = numbers.setdefault(key, np.full(total, usual))
        column[start:stop] = np.array([dict(c.numbers).get(key, usual) for c in choices])[rows.choice]
