"""What a block of findings says, in the page's own words."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.belief import Block
from witnessmark.report.naming import ANGLES, condition_words, quantity_words, value_words
from witnessmark.report.words import angle, at_start, counted, inside, listed, number, places_for, sentence, unit_of
from witnessmark.vocabulary import Condition

__all__ = ["block_words"]

_MOST = 3


def block_words(engine: Engine, findings: Mapping[str, Finding], block: Block) -> str:
    """A block in words.

    A reason stays as the reasoner wrote it. A mere list of readings (it begins with the name of the
    first one's quantity) is said again as people say it, the telling ones first.

    Parameters
    ----------
    engine : Engine
    findings : mapping
        By id.
    block : Block

    Returns
    -------
    str
        One sentence.
    """
    known = [findings[name] for name in block.findings if name in findings]
    if not known or not _is_list(known[0], block.words):
        return sentence(block.words)
    telling = sorted(known, key=lambda f: f.quantity not in ANGLES)
    said = [_short(engine, finding) for finding in telling[:_MOST]]
    said = [said[0], *map(inside, said[1:])]
    rest = len(telling) - len(said)
    if rest:
        said.append(counted(rest, "other reading"))
    states = {finding.condition.state for finding in known}
    when = condition_words(Condition(state=states.pop())) if len(states) == 1 else ""
    return sentence(f"{at_start(when)}: {inside(listed(said))}" if when else listed(said))


def _is_list(first: Finding, words: str) -> bool:
    return first.quantity != "code_state" and words.lower().startswith(f"{first.quantity.replace('_', ' ')}:")


def _short(engine: Engine, finding: Finding) -> str:
    name = quantity_words(engine, finding.quantity, finding.place)
    if finding.quantity in ANGLES and finding.quantity != "cam_deviation":
        size = places_for(finding.sd, finding.value)
        colon = ":" if name[-1].isdigit() else ""
        return f"{name}{colon} {angle(round(finding.value, min(size, 1)))}"
    if finding.quantity == "cam_deviation":  # early or late is the maker's sign to say
        return f"{name} {number(finding.value, min(1, places_for(finding.sd, finding.value)))}{unit_of('deg')}"
    return f"{name} {value_words(finding)}"
