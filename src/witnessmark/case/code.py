"""Trouble codes as people type them: either case, with or without a failure type byte."""

from __future__ import annotations

import re

from witnessmark.case.reported import SET_BY, STATUSES, ReportedCode
from witnessmark.case.words import Said, plain_signs, split_line, yes_or_no
from witnessmark.catalogue.codes import nearest_code
from witnessmark.errors import InputError, one_of
from witnessmark.finding import Finding, Provenance
from witnessmark.vocabulary import Place, quantity

__all__ = ["NO_CODE", "code_findings", "parse_code", "parse_code_line", "parse_code_reading", "statuses"]

NO_CODE = "P0000"
"""What fills the place of a code in an answer without one (SAE J1979, from memory)."""

_CODE = re.compile(r"([PCBU][0-3][0-9A-F]{3})(?:[-:]([0-9A-F]{2}))?")  # with or without a failure type byte
_KEYS = ("status", "set", "monitor_ran", "unit")
_EACH_ALONE = "One code a line"
_LESS_SURE = 0.1  # of a code that is pending, or only was set at some time; our guess
_DERIVED_DOUBT = 0.1  # of a code that is not set because a readiness bit says that monitors of its group ran; our guess


def parse_code(text: str) -> str:
    """A trouble code as the standard writes it (SAE J2012 / ISO 15031-6), from what was typed.

    Parameters
    ----------
    text : str
        Either case; a failure type byte behind it (P0016-00) is understood and left off.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is no code: says what is missing, and the nearest one.

    Examples
    --------
    >>> parse_code("p0016")
    'P0016'
    """
    code = text.strip().upper()
    found = _CODE.fullmatch(code)
    if found and found[1] == NO_CODE:
        raise InputError(f"{NO_CODE} says that no code is stored", given=text, todo="Leave it out")
    if found:
        return found[1]
    several = [word for word in re.split(r"[,;/+&]", code) if _CODE.fullmatch(word.strip())]
    if len(several) > 1:
        raise InputError(f"“{text.strip()}” is {len(several)} codes", given=text, todo=_EACH_ALONE)
    near = nearest_code(code)
    raise InputError(
        f"“{text.strip()}” is not a code: {_what_is_wrong(code)}",
        given=text,
        expected="a letter and four digits, as in P0016",
        todo=f"Nearest: {near}" if near else None,
    )


def parse_code_line(text: str) -> ReportedCode:
    """A code from one typed line: the code, and what was said of it.

    Parameters
    ----------
    text : str
        ``CODE [status=WORD,WORD] [set=yes|no] [monitor_ran=yes|no] [unit=NAME]``.

    Returns
    -------
    ReportedCode

    Raises
    ------
    InputError
        If it is no code, or something else stands in the line; names the nearest right word. Also where the line
        contradicts itself: not set, and of a status that only a code has which is set.

    Examples
    --------
    >>> parse_code_line("p0171-00 status=pending,failed monitor_ran=yes").status
    ('pending', 'failed')
    """
    first, _, behind = plain_signs(text).strip().partition(" ")
    code = parse_code(first if behind else text)
    failure = _CODE.fullmatch(first.upper())
    said = split_line(behind, with_head=False) if behind.strip() else Said("", (), "", text)
    pairs = dict(said.pairs)
    if said.rest:
        raise _not_understood(code, said.rest, text)
    for key in pairs:
        if key not in _KEYS:
            raise one_of("key", key, _KEYS)
    found = ReportedCode(
        code,
        is_set=yes_or_no("set", pairs["set"]) if "set" in pairs else True,
        status=statuses(pairs.get("status", "")),
        monitor_ran=yes_or_no("monitor_ran", pairs["monitor_ran"]) if "monitor_ran" in pairs else None,
        failure_type=(failure[2] or "") if failure else "",
        unit=pairs.get("unit", ""),
    )
    denied = next((word for word in found.status if word in SET_BY), None)
    if denied is not None and not found.is_set:
        raise InputError(f"{code}: set=no, and status={denied} says that it is set", given=text, todo="Keep one")
    return found


def _not_understood(code: str, rest: str, text: str) -> InputError:
    if all(_CODE.fullmatch(word.upper()) for word in rest.split()):
        return InputError(f"{code}: another code stands behind it, {rest.split()[0]}", given=text, todo=_EACH_ALONE)
    return InputError(
        f"{code}: “{rest}” is not understood",
        given=text,
        expected="status= set= monitor_ran= unit=, each with one word behind it, as in: P0171 status=pending",
    )


def statuses(text: str) -> tuple[str, ...]:
    """Words for the status of a code, parted by commas.

    Parameters
    ----------
    text : str

    Returns
    -------
    tuple of str
        Of :data:`witnessmark.case.reported.STATUSES`, each once.

    Raises
    ------
    InputError
        For another word; names the nearest.
    """
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    for word in words:
        if word not in STATUSES:
            raise one_of("status", word, STATUSES)
    return tuple(dict.fromkeys(words))


def code_findings(reported: ReportedCode, text: str = "") -> tuple[Finding, ...]:
    """What a reported code is evidence of: whether it is set, and whether its monitor ran.

    Parameters
    ----------
    reported : ReportedCode
    text : str
        As it was typed.

    Returns
    -------
    tuple of Finding
        A code that is pending or only was set once is less sure: the chance of a wrong answer is larger.
    """
    kind, place = quantity("code_state"), Place.of(code=reported.code)
    source = Provenance(kind="code", text=text.strip())
    how = "not reported, though its monitor ran" if reported.derived else "read from the computer"
    value = 1.0 if reported.is_set else 0.0
    found = [Finding(kind.name, place, value, _doubt(reported, kind.sd), source=source, method=how)]
    if reported.monitor_ran is not None:
        ran = quantity("monitor_ran")
        said = 1.0 if reported.monitor_ran else 0.0
        found.append(Finding(ran.name, place, said, ran.sd, source=source, method=how))
    return tuple(found)


def _doubt(reported: ReportedCode, usual: float) -> float:
    """Chance that what is told is not so: of a limit crossed once, or some time ago, more. Our guess."""
    if reported.derived:
        return _DERIVED_DOUBT
    if not reported.is_set or not reported.status:
        return usual
    sure = {"confirmed", "permanent", "failed", "lamp"} & set(reported.status)
    return usual if sure else _LESS_SURE


def parse_code_reading(text: str) -> Finding:
    """The finding "this code is set", or is not, of one typed line.

    Parameters
    ----------
    text : str
        As for :func:`parse_code_line`.

    Raises
    ------
    InputError
        If it is no code.
    """
    return code_findings(parse_code_line(text), text)[0]


def _what_is_wrong(code: str) -> str:
    if not code:
        return "nothing is written"
    if code[0] not in "PCBU":
        return "it begins with P, C, B or U"
    if len(code) < 5:
        missing = 5 - len(code)
        return "one digit is missing" if missing == 1 else f"{missing} digits are missing"
    if _CODE.fullmatch(code[:5]) and code[5:6] in ("-", ":"):
        return "its failure type is two digits, 0 to 9 or A to F, as in P0016-00"
    if "O" in code[1:]:
        return "it has the letter O where a nought belongs"
    if len(code) > 5:
        more = len(code) - 5
        return "it has one digit too many" if more == 1 else f"it has {more} digits too many"
    if code[1] not in "0123":
        return "its second place is 0, 1, 2 or 3"
    return "its last three places are 0 to 9 or A to F"
