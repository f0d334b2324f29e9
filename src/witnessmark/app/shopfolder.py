"""Files of the shop folder: what belongs to the shop and to no case, read where it is and written whole.

Where the folder is says :func:`witnessmark.engine.library.shop_folder`. Nothing is made there until something is
written. Floors beneath never look for it: they are handed what was read, as plain values.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from witnessmark.case.files import held, read_text, write_whole
from witnessmark.engine.library import shop_folder
from witnessmark.errors import InputError, StoreError

__all__ = ["read_shop_text", "read_shop_toml", "shop_path", "write_shop_text"]


def shop_path(name: str) -> Path:
    """Where a file of the shop folder is, or would be.

    Parameters
    ----------
    name : str
        Its name, or a path beneath the folder with "/" between: ``codes.toml``, ``columns/one.toml``.

    Returns
    -------
    Path
        It need not exist.

    Raises
    ------
    InputError
        For a path that leads out of the folder.
    """
    parts = [part for part in name.split("/") if part]
    if not parts or name.startswith("/") or any(part in (".", "..") or "\\" in part or ":" in part for part in parts):
        raise InputError("no name of a file in the shop folder", given=name, expected="a name as in codes.toml")
    return shop_folder().joinpath(*parts)


def read_shop_text(name: str) -> str | None:
    """The text of a file of the shop folder.

    Parameters
    ----------
    name : str
        As for :func:`shop_path`.

    Returns
    -------
    str or None
        None where there is no such file.

    Raises
    ------
    InputError
        If it is there and cannot be read, or is no UTF-8 text.
    """
    path = shop_path(name)
    return read_text(path).removeprefix("\ufeff") if path.exists() else None


def read_shop_toml(name: str) -> Mapping[str, Any]:
    """The tables of a TOML file of the shop folder.

    Parameters
    ----------
    name : str

    Returns
    -------
    mapping
        Empty where there is no such file.

    Raises
    ------
    InputError
        If it cannot be read or is not TOML; names the file.
    """
    text = read_shop_text(name)
    if text is None:
        return {}
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"not TOML: {error}", where=str(shop_path(name))) from None


def write_shop_text(name: str, text: str) -> Path:
    """Write a file of the shop folder, so that it is there whole or as it was before; one writer at a time.

    Parameters
    ----------
    name : str
    text : str

    Returns
    -------
    Path
        The file.

    Raises
    ------
    StoreError
        If it cannot be kept.
    """
    path = shop_path(name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"{path.parent} cannot be made: {error.strerror}") from None
    with held(path.parent):
        write_whole(path, text.encode("utf-8"))
    return path
