"""Engines by name: those that ship with the program, and the shop's own.

The shop's own stand in the folder ``engines`` of the shop folder (``WITNESSMARK_HOME``, else the platform's user-data
folder), one TOML file each, and come before shipped ones of the same name.
"""

from __future__ import annotations

import os
import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from witnessmark.engine.file import decoded, engine_from_toml, read_engine
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, nearest

__all__ = ["KnownEngine", "engine_text", "find_engine", "known_engines", "shop_folder"]


@dataclass(frozen=True, slots=True)
class KnownEngine:
    """One entry of the library.

    Parameters
    ----------
    name : str
        As the description gives it, else its file's.
    file : str
        Its file's name without ``.toml``.
    shipped : bool
        Whether it came with the program.
    source : Path or Traversable
    """

    name: str
    file: str
    shipped: bool
    source: Path | Traversable

    def text(self) -> str:
        """The description as it stands in its file."""
        return decoded(self.source.read_bytes(), f"{self.file}.toml")

    def load(self) -> Engine:
        """The engine it describes."""
        return engine_from_toml(self.text(), where=f"{self.file}.toml", name=self.file)


def shop_folder() -> Path:
    """Where the shop keeps what belongs to no case: ``WITNESSMARK_HOME``, else the platform's user-data folder.

    Returns
    -------
    Path
        It need not exist.
    """
    if chosen := os.environ.get("WITNESSMARK_HOME"):
        return Path(chosen).expanduser()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "Witnessmark"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Witnessmark"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "witnessmark"


def known_engines() -> tuple[KnownEngine, ...]:
    """All engines of the library, the shop's own first.

    Returns
    -------
    tuple of KnownEngine
        One for each name. A file that is not TOML is listed by its file's name; loading it says what is wrong.
    """
    found: dict[str, KnownEngine] = {}
    for entry in _entries():
        found.setdefault(_folded(entry.name), entry)
    return tuple(found.values())


def _entries() -> Iterator[KnownEngine]:
    own = shop_folder() / "engines"
    if own.is_dir():
        yield from (_entry(path, shipped=False) for path in sorted(own.glob("*.toml")))
    shipped = sorted(files("witnessmark").joinpath("data/engines").iterdir(), key=lambda item: item.name)
    yield from (_entry(item, shipped=True) for item in shipped if item.name.endswith(".toml"))


def _entry(source: Path | Traversable, *, shipped: bool) -> KnownEngine:
    file = source.name.removesuffix(".toml")
    try:
        name = str(_head(source.read_text(encoding="utf-8-sig")).get("name") or file)
    except (OSError, ValueError):
        name = file
    return KnownEngine(name, file, shipped, source)


def _head(text: str) -> dict[str, object]:
    """The keys before the first table: the name is among them, and a list of names need not read the rest."""
    head = re.split(r"^\s*\[", text, maxsplit=1, flags=re.MULTILINE)[0]
    try:
        return tomllib.loads(head)
    except ValueError:  # a list may have begun a line with its bracket
        return tomllib.loads(text)


def _folded(name: str) -> str:
    """Letters and digits alone, so that "made-up-four" finds "made-up four"."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def find_engine(name: str | Path, *, folder: Path | None = None) -> Engine:
    """The engine of a file or of a name.

    Parameters
    ----------
    name : str or Path
        A path to a description, or a name of the library; case, blanks and hyphens do not matter.
    folder : Path, optional
        Where a relative path begins; the working folder if left out.

    Returns
    -------
    Engine

    Raises
    ------
    InputError
        If there is neither such a file nor such a name; tells the nearest name.
    """
    path = (folder or Path()) / name
    if path.is_file():
        return read_engine(path)
    if str(name).lower().endswith(".toml") and path.parent != (folder or Path()):
        raise InputError("there is no such file", where=str(name), todo="Give a description's path, or a name")
    return _named(str(name)).load()


def engine_text(name: str) -> str:
    """The description of a named engine as it stands in its file, comments and all.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Raises
    ------
    InputError
        If no engine has that name.
    """
    return _named(name).text()


def _named(name: str) -> KnownEngine:
    known = known_engines()
    wanted = _folded(name.removesuffix(".toml"))
    for entry in known:
        if wanted in (_folded(entry.name), _folded(entry.file)):
            return entry
    names = [entry.name for entry in known]
    near = nearest(name, names)
    todo = f"Nearest: {near[0]}" if near else f"Known: {', '.join(names)}"
    raise InputError(f"no engine is described under “{name}”, and there is no such file", given=name, todo=todo)
