"""Which cam a log's cam is, what its numbers are, what their sign means: by the engine description, never guessed."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.types import Engine, cam_id
from witnessmark.measure.log.series import Log, Series

__all__ = ["KINDS", "CamTraces", "cam_traces", "sign_words", "which_cam"]

KINDS = ("actual", "target", "deviation", "learnt", "duty")
"""What a number can be; of each a parameter "cam_…"."""

_LETTERS = ("A", "B")


@dataclass(frozen=True, slots=True, eq=False)
class CamTraces:
    """What a log holds of one cam.

    Parameters
    ----------
    bank : int
    cam : str
        As in the log: "intake", "exhaust", "single", "A" or "B".
    actual, target, deviation, learnt, duty : Series, optional
    said : str
        Why a number is taken for something else than its heading says; empty where it is not.
    """

    bank: int
    cam: str
    actual: Series | None = None
    target: Series | None = None
    deviation: Series | None = None
    learnt: Series | None = None
    duty: Series | None = None
    said: str = ""


def cam_traces(log: Log, engine: Engine | None = None) -> tuple[CamTraces, ...]:
    """The cams of a log with their numbers.

    Parameters
    ----------
    log : Log
    engine : Engine, optional
        Where it says what the computer's one number for a cam is (``reporting.value``), that holds for a cam of which
        the log has one number only.

    Returns
    -------
    tuple of CamTraces
        By bank and cam.
    """
    found: dict[tuple[int, str], dict[str, Series]] = {}
    for kind in KINDS:
        for one in log.all_of(f"cam_{kind}"):
            assert one.signal.bank is not None
            assert one.signal.cam is not None
            found.setdefault((one.signal.bank, one.signal.cam), {})[kind] = one
    is_a = engine.reporting.value if engine is not None else None
    traces = []
    for (bank, cam), kinds in sorted(found.items()):
        said = ""
        if is_a is not None and is_a != "actual" and set(kinds) - {"duty"} == {"actual"}:
            kinds[is_a] = kinds.pop("actual")
            said = f"the description says that this computer's number for a cam is its {is_a}"
        traces.append(CamTraces(bank, cam, **kinds, said=said))
    return tuple(traces)


def which_cam(engine: Engine | None, bank: int, cam: str) -> tuple[str | None, str]:
    """The described cam that a log's cam is.

    Parameters
    ----------
    engine : Engine, optional
    bank : int
    cam : str
        "intake", "exhaust", "single", "A" or "B".

    Returns
    -------
    tuple of (str or None, str)
        "intake", "exhaust" or "single"; else None and the reason.
    """
    kinds = tuple(dict.fromkeys(one.kind for one in engine.cams if one.bank == bank)) if engine is not None else ()
    if engine is not None and engine.cams and not kinds:
        return None, f"the described engine has no bank {bank}"
    if cam not in _LETTERS:
        if kinds and cam not in kinds:
            return None, f"the described engine has no cam {cam_id(bank, cam)}"
        return cam, ""
    if kinds == ("single",):
        return ("single", "") if cam == "A" else (None, "the described engine has one cam a bank, and this one is B")
    a_is = engine.reporting.a_is if engine is not None else None
    if a_is is None:
        return None, f"nothing says whether cam {cam} is the intake or the exhaust cam"
    other = "exhaust" if a_is == "intake" else "intake"
    return (a_is if cam == "A" else other), ""


def sign_words(engine: Engine | None) -> str:
    """What a positive angle of this computer means.

    Parameters
    ----------
    engine : Engine, optional

    Returns
    -------
    str
        The value itself stays in the computer's sign: what weighs it knows the description's.
    """
    sign = engine.reporting.sign if engine is not None else None
    if sign is None or sign.mean is None or abs(sign.mean) < 1.0:
        return "in the computer's sign; nothing says whether its + is advanced"
    return f"in the computer's sign, whose + is {'advanced' if sign.mean > 0.0 else 'retarded'} by the description"
