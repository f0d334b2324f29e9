"""The engine that was meant: by file, by name, or by its number of cylinders; checked before anything leans on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.case.record import engine_for
from witnessmark.engine.types import Engine
from witnessmark.errors import EngineDefinitionError

if TYPE_CHECKING:
    from witnessmark.engine.candidates import Candidate

__all__ = ["checked", "engine_meant", "engine_named", "engine_words", "likeliest"]

_LAYOUTS = {"inline": "in-line", "vee": "vee", "flat": "flat"}


def engine_meant(name: str | None, cylinders: int | None) -> Engine:
    """The engine from a name or file, a cylinder count, or both where they agree.

    Parameters
    ----------
    name : str, optional
        Of a described engine, or the path of its description.
    cylinders : int, optional

    Returns
    -------
    Engine

    Raises
    ------
    InputError
        If there is neither, nothing of that name, or they contradict each other.
    EngineDefinitionError
        If the description cannot be.
    """
    described = engine_named(name) if name is not None else None
    return engine_for(cylinders=cylinders, described=described, how="--cylinders 4")


def engine_named(name: str | Path, *, folder: Path | None = None) -> Engine:
    """The described engine of a name or file, checked.

    Parameters
    ----------
    name : str or Path
    folder : Path, optional
        Where a relative path begins; the working folder if left out.

    Returns
    -------
    Engine

    Raises
    ------
    InputError
        If there is none; names the nearest.
    EngineDefinitionError
        If the description cannot be.
    """
    from witnessmark.engine.library import find_engine

    return checked(find_engine(name, folder=folder))


def checked(engine: Engine) -> Engine:
    """The engine, where its chains and belts fit around its sprockets.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    Engine

    Raises
    ------
    EngineDefinitionError
        Names the first place that does not fit.
    """
    if engine.drive is None or not any(s.at_mm is not None for _, s in engine.drive.meshes()):
        return engine
    from witnessmark.physics.path import path_complaints

    found = path_complaints(engine.drive)
    if found:
        place, words = found[0]
        more = f", and {len(found) - 1} more like it" if len(found) > 1 else ""
        raise EngineDefinitionError(
            f"{words}{more}", where=f"{engine.name}, {place}", todo="Measure again, or leave it out"
        )
    return engine


def engine_words(engine: Engine) -> str:
    """The engine in a few words, for people.

    Parameters
    ----------
    engine : Engine
    """
    parts = [engine.name]
    layout = _LAYOUTS.get(engine.layout or "")
    if layout and layout not in engine.name:
        parts.append(f"{layout}, {engine.cylinders} cylinders")
    elif str(engine.cylinders) not in engine.name and not engine.name.startswith("in-line or other"):
        parts.append(f"{engine.cylinders} cylinders")
    if engine.drive is not None and engine.drive.label:
        parts.append(engine.drive.label)
    elif engine.drive is None or not engine.drive.stages:
        parts.append("drive not described")
    return ", ".join(parts)


def likeliest(engine: Engine) -> Candidate:
    """The likeliest engine that a description allows.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    Candidate
    """
    from witnessmark.engine.candidates import candidate_engines

    return max(candidate_engines(engine), key=lambda one: one.weight)
