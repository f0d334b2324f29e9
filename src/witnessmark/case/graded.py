"""What was seen, smelt or heard, as it is typed with dirty hands: ``look plug=3 sooty 2``.

The word and the place may be written in whatever way is quickest; here they become the keys of the closed lists.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from witnessmark.case.words import Said
from witnessmark.engine.stateplaces import AIR_DUCTS, SENSORS
from witnessmark.errors import InputError, nearest
from witnessmark.finding import Finding
from witnessmark.vocabulary import GRADES, Quantity

__all__ = ["DENYING", "grade_of", "refuse_denied", "with_keys"]

_LIQUID = ("wet", "oily")
DENYING = ("clean", "dry", "none")
"""Words that say of the others that they are not so: their grade is 0."""

_GRADES = {
    "not": 0, "no": 0, "slight": 1, "slightly": 1, "trace": 1, "plain": 2, "plainly": 2, "yes": 2, "gross": 3,
    "grossly": 3, "heavy": 3, "heavily": 3,
}  # fmt: skip
_SEEN = "2"  # of a word without a grade: it was noticed
_SAME = {
    "petrol": "fuel",
    "gasoline": "fuel",
    "oil": "burnt_oil",
    "rotten_eggs": "sulphur",
    "electrics": "hot_electrics",
    "ok": "clean",
    "nothing": "none",
    "silent": "none",
    "pinking": "knock",
}
_NUMBERED = ("plug", "cylinder")
_NUMBERED_PARTS = ("boot", "coil", "injector")
_NUMBERED_DUCTS = ("runner", "port", "exhaust_front", "catalyst")
_DUCTS = (*AIR_DUCTS, "charge_pipe", "charge_cooler", "tail", "pickup", "fuel_filter")
_PARTS = ("belt", "engine_mount", "flexplate", "throttle", "pcv", "egr", "turbo", "tyres", "regulator")
_FLUIDS = ("oil", "coolant")
_LOOKED_AT = (("part", _PARTS), ("fluid", _FLUIDS), ("duct", _DUCTS), ("sensor", SENSORS), ("fuel", ("fuel",)))


def with_keys(said: Said, kind: Quantity) -> Said:
    """The line with its word and its place as keys, and the grade alone left over.

    Parameters
    ----------
    said : Said
    kind : Quantity
        A graded one.

    Returns
    -------
    Said

    Raises
    ------
    InputError
        For a word, a place or a grade that is none; says the nearest.
    """
    value, plus_minus, chance = said.rest.partition("±")
    word, left = _word_and_rest(value, dict(said.pairs).get("word"), kind, said.text)
    if word in DENYING and left not in ("", "0"):
        raise InputError(f"{word} is grade 0 of all other words: it takes no {left}", given=said.text)
    grade = "0" if word in DENYING else left or _SEEN
    pairs = [(key, one) for key, one in said.pairs if key != "word"]
    pairs = [*_placed(pairs, kind), ("word", word)]
    return replace(said, pairs=tuple(pairs), rest=f"{grade} {plus_minus}{chance}".strip())


def grade_of(text: str, kind: Quantity) -> float:
    """A grade, in figures or in words.

    Parameters
    ----------
    text : str
    kind : Quantity

    Returns
    -------
    float
        0 to 3.

    Raises
    ------
    InputError
        If it is none.
    """
    word = text.strip().lower()
    if word in _GRADES:
        return float(_GRADES[word])
    if word in [str(grade) for grade in range(GRADES)]:
        return float(word)
    raise InputError(
        f"{kind.name} is graded 0 (looked for, and not so), 1 (slightly), 2 (plainly) or 3 (grossly), not {text}",
        given=text,
    )


def refuse_denied(findings: Iterable[Finding]) -> None:
    """Refuse a place that is called clean, and something else in another line.

    Parameters
    ----------
    findings : iterable of Finding

    Raises
    ------
    InputError
        Names both words.
    """
    graded = [finding for finding in findings if finding.kind.kind == "grade"]
    for denial in graded:
        word = denial.place.get("word")
        if word not in DENYING:
            continue
        for other in graded:
            named = other.place.get("word")
            beside = other.place.with_keys(word=None) == denial.place.with_keys(word=None)
            alike = beside and (other.quantity, other.condition) == (denial.quantity, denial.condition)
            if alike and other.value > 0 and (word != "dry" or named in _LIQUID):
                where = denial.place.with_keys(word=None)
                todo = "Keep one line, or say what was different (state=, complaint=)"
                raise InputError(f"{where} is called {word} and {named}", given=other.source.text, todo=todo)


def _word_and_rest(value: str, given: str | None, kind: Quantity, text: str) -> tuple[str, str]:
    """The word of the list, and what else was written."""
    tokens = value.lower().split()
    if given is not None:
        return _known(given, kind), " ".join(tokens)
    found, left = [], []
    at = 0
    while at < len(tokens):
        both = "_".join(tokens[at : at + 2])
        length = 2 if at + 1 < len(tokens) and _is_word(both, kind) else 1
        token = "_".join(tokens[at : at + length])
        if length == 2 or _is_word(token, kind):
            found.append(_same(token, kind))
        elif token in _GRADES or token.lstrip("+-")[:1].isdigit():
            left.append(token)
        else:
            raise _no_such_word(token.replace("_", " "), kind)
        at += length
    if len(found) == 2 and "none" in found:  # "rattle none": none of it
        found.remove("none")
        left.append("0")
    if len(found) > 1:
        raise InputError(f"Two words stand here: {found[0]} and {found[1]}", given=text, todo="Write a line for each")
    if not found:
        raise InputError(f"{kind.name}: which word?", given=text, expected=", ".join(kind.words))
    return found[0], " ".join(left)


def _same(token: str, kind: Quantity) -> str:
    plain = token.replace("-", "_")
    for word in (plain, plain.removesuffix("ing"), plain.removesuffix("ing") + "e", _SAME.get(plain, plain)):
        if word in kind.words:
            return word
    return plain


def _is_word(token: str, kind: Quantity) -> bool:
    return _same(token, kind) in kind.words


def _known(word: str, kind: Quantity) -> str:
    found = _same(word.lower(), kind)
    if found not in kind.words:
        raise _no_such_word(word, kind)
    return found


def _no_such_word(word: str, kind: Quantity) -> InputError:
    near = nearest(word, kind.words)
    begin = f"Nearest: {near[0]}; known" if near else "Known"
    todo = f"{begin}: {', '.join(kind.words)}"
    return InputError(f"No answer for {kind.name} is called “{word}”", given=word, todo=todo)


# ---------------------------------------------------------------- places


def _placed(pairs: list[tuple[str, str]], kind: Quantity) -> list[tuple[str, str]]:
    """``at=`` and ``cyl=`` as the keys that are meant."""
    keys = dict(pairs)
    number = keys.pop("cyl", None)
    number = keys.pop("cylinder", None) if number is None else number
    at = keys.pop("at", None)
    if at is not None:
        key, value, used = _at(at.lower(), number, kind)
        keys[key] = value
        number = None if used else number
    if number is not None:
        keys["cylinder"] = number
    return list(keys.items())


def _at(name: str, number: str | None, kind: Quantity) -> tuple[str, str, bool]:
    """Key and value of a place written with ``at=``, and whether the cylinder's number belongs to it."""
    if name in kind.zones:
        return "zone", name, False
    if kind.name == "look":
        if number is not None and name in _NUMBERED:
            return name, number, True
        if number is not None and name in _NUMBERED_PARTS:
            return "part", f"{name}_{number}", True
        if number is not None and name in _NUMBERED_DUCTS:
            return "duct", f"{name}_{number}", True
        for key, names in _LOOKED_AT:
            if name in names or (key == "duct" and name.rpartition("_")[0] in _NUMBERED_DUCTS):
                return key, name, False
    known = (*kind.zones, *((*_PARTS, *_DUCTS, *_NUMBERED, *_NUMBERED_PARTS, *_FLUIDS) if kind.name == "look" else ()))
    near = nearest(name, known)
    todo = f"Nearest: {near[0]}" if near else f"One of: {', '.join(known)}"
    if name in _NUMBERED or name in _NUMBERED_PARTS:
        todo = f"Say which: at={name} cyl=3"
    raise InputError(f"No place for {kind.name} is called “{name}”", given=f"at={name}", todo=todo)
