"""Typical first readings, answered: is a right cause named first, and the next test one that a technician would take?

The examples stand in ``tests/data/first_readings`` and were written, with what is acceptable, before the code that
answers them. Not one is tuned to: what is missed stays missed until the physics or the law of readings says otherwise.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from tests.first_readings import NO_FAULT, FirstReading, Named, first_readings
from witnessmark.app.monitors import silent_codes
from witnessmark.case.code import code_findings
from witnessmark.infer.belief import Belief
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.plan.next import next_steps

WHAT = "worked examples of first readings: first-named cause, what stands among the first, the next test, the verdict"

SMALL = 6


@dataclass(frozen=True, slots=True)
class Answered:
    """How one example was answered.

    Parameters
    ----------
    example : FirstReading
    first, within, test, bad, verdict : bool
        An acceptable cause first; all that must be near it; an acceptable next step; one that is an error; the verdict.
    led, step : str
        What was named first, and done next.
    seconds : float [s]
        Processor time of answer and plan.
    """

    example: FirstReading
    first: bool
    within: bool
    test: bool
    bad: bool
    verdict: bool
    led: str
    step: str
    seconds: float


@dataclass(frozen=True, slots=True)
class _Entry:
    chance: float
    causes: tuple[tuple[str, str, str], ...]
    words: str


def _ranked(belief: Belief) -> list[_Entry]:
    """Repair groups and the hypotheses that are no fault, by falling probability; the likeliest cause of each first."""
    known = {hypothesis.id: hypothesis for hypothesis in belief.hypotheses}
    found = []
    for group in belief.groups:
        faults = [fault for name in group.hypotheses for fault in known[name].faults]
        found.append(_Entry(group.probability, tuple((f.fault, *f.place[0]) for f in faults), group.words))
    found += [_Entry(known[name].probability, ((name, "", ""),), name) for name in NO_FAULT]
    return sorted(found, key=lambda entry: -entry.chance)


def _named(named: tuple[Named, ...], entry: _Entry) -> bool:
    return any(one.matches(*cause) for one in named for cause in entry.causes)


def diagnosed(example: FirstReading) -> Diagnosis:
    """One example weighed, with the codes that are silent though their monitors ran.

    Parameters
    ----------
    example : FirstReading

    Returns
    -------
    Diagnosis
    """
    hand = example.in_hand()
    mentioned = {str(f.place.get("code")) for f in hand.findings if f.place.get("code") is not None}
    silent = silent_codes(hand.reported, hand.engine, mentioned=mentioned)
    findings = (*hand.findings, *(finding for one in silent for finding in code_findings(one)))
    history = hand.history
    if history.complaint_seen is None and any(f.condition.complaint == "present" for f in hand.findings):
        history = replace(history, complaint_seen=True)
    return diagnose(hand.engine, findings, history)


def answered(example: FirstReading) -> Answered:
    """One example weighed and planned.

    Parameters
    ----------
    example : FirstReading

    Returns
    -------
    Answered
    """
    begun = time.process_time()
    diagnosis = diagnosed(example)
    covers = tuple(filter(None, example.in_hand().history.known.get("open", "").split(",")))
    step = next_steps(diagnosis, covers_open=covers).steps[0]
    seconds = time.process_time() - begun
    ranked = _ranked(diagnosis.belief)
    lead = ranked[0]
    wrong = any(Named.parsed(one.to).matches(*lead.causes[0]) for one in example.must_not_lead)
    near = all(any(_named(some, entry) for entry in ranked[: example.within]) for some in example.must_be_within)
    right = example.acceptable_tests if step.kind == "test" else example.acceptable_repairs
    return Answered(
        example,
        first=_named(example.acceptable_first, lead) and not wrong,
        within=near,
        test=(step.test if step.kind == "test" else step.test.partition(":")[0]) in right,
        bad=step.test in [one.to for one in example.bad_tests],
        verdict=diagnosis.belief.verdict.kind in example.verdict_acceptable,
        led=f"{lead.words} ({100 * lead.chance:.0f} %)",
        step=step.test,
        seconds=seconds,
    )


def run(options: Options) -> Outcome:
    """All examples, or the first few."""
    examples = first_readings()[:SMALL] if options.small else first_readings()
    done = [answered(example) for example in examples]
    return Outcome(summary(done), ())


def _yes(holds: bool) -> str:
    return "yes" if holds else "**no**"


def summary(done: list[Answered]) -> str:
    """Counts, and a line for every example.

    Parameters
    ----------
    done : list of Answered

    Returns
    -------
    str
    """
    n = len(done)

    def count(name: str) -> str:
        return f"{sum(getattr(one, name) for one in done)} of {n}"

    rows = "\n".join(
        f"| {one.example.id} | {_yes(one.first)} | {_yes(one.within)} | "
        f"{'**an error**' if one.bad else _yes(one.test)} | {one.led} | {one.step} | {one.seconds:.1f} |"
        for one in done
    )
    return f"""# First readings

{origin(Path(__file__)).label}. Examples: docs/first-readings.md. A cause counts as first where a member of the leading
repair group is acceptable and its likeliest is not one that must not lead; a next step that is neither listed as right
nor as wrong counts as missed.

| | |
|---|---|
| an acceptable cause first | **{count("first")}** |
| all that must be near it among the first groups | {count("within")} |
| an acceptable next step | {count("test")} |
| a next step that is an error | {count("bad")} |
| an acceptable verdict | {count("verdict")} |

| example | first | near | next | led by | next step | s |
|---|---|---|---|---|---|---|
{rows}
"""
