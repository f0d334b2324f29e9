"""The table of current data: which number or word stands where in the answer to which parameter.

Facts in ``data/pids.toml``: SAE J1979 / ISO 15031-5, formulas as handbook §7 gives them, the rest from memory
and marked so.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from witnessmark.decode.scaling import Scaling
from witnessmark.errors import InputError, one_of
from witnessmark.recording.parameters import Signal, parameters, signal_of

__all__ = ["LAYOUTS", "Item", "Pid", "pid_table", "sensor_place", "where_is"]

LAYOUTS: Mapping[str, int] = {"13": 4, "1D": 2}
"""Oxygen sensors a bank, by the parameter that says which exist: 13 two banks of four, 1D four banks of two."""


@dataclass(frozen=True, slots=True)
class Item:
    """One number or word of an answer.

    Parameters
    ----------
    words, unit : str
        ``unit`` is "text" where the number stands for a word.
    scaling : Scaling
    signal : str, optional
        Line of the closed list of parameters, with its place but for an oxygen sensor's.
    unused : int, optional
        The whole number that says "not used".
    bit : int, optional
        Bit of the first byte that says that the vehicle has it.
    more : bool
        True for what only longer answers hold.
    meanings : mapping of int to str
        Words for whole numbers.
    """

    words: str
    unit: str
    scaling: Scaling
    signal: str | None = None
    unused: int | None = None
    bit: int | None = None
    more: bool = False
    meanings: Mapping[int, str] = field(default_factory=dict)

    def said(self, count: int) -> float | str:
        """What a whole number means: a value in ``unit``, or the word it stands for."""
        if self.unit == "text":
            return self.meanings.get(count, f"{count}, a meaning not known here")
        return count * self.scaling.factor + self.scaling.offset


@dataclass(frozen=True, slots=True)
class Pid:
    """One parameter of current data.

    Parameters
    ----------
    number : int
    bytes : int, optional
        Length of its answer; None where editions of the standard differ.
    kind : str
        "values", "support", "monitors", "code" or "sensors".
    mark : str
        "R" read, "M" from memory.
    words : str
    items : tuple of Item
    sensor : int, optional
        Which of the eight oxygen sensors, from 0.
    """

    number: int
    bytes: int | None
    kind: str
    mark: str
    words: str
    items: tuple[Item, ...] = ()
    sensor: int | None = None

    @property
    def least_bytes(self) -> int:
        """How many bytes it takes to read something: its own, or as far as its first item reaches."""
        if self.bytes is not None:
            return self.bytes
        return min((item.scaling.end for item in self.items), default=0)

    def signal_of(self, item: Item, layout: str = "13") -> Signal | None:
        """What an item is in a log; None for one that the closed list has not.

        Parameters
        ----------
        item : Item
        layout : str
            Which parameter counts the oxygen sensors, a key of :data:`LAYOUTS`.

        Returns
        -------
        Signal or None
        """
        if item.signal is None:
            return None
        if self.sensor is None:
            return signal_of(item.signal)
        bank, sensor = sensor_place(self.sensor, layout)
        return Signal(item.signal, bank=bank, sensor=sensor)


def sensor_place(number: int, layout: str = "13") -> tuple[int, int]:
    """Bank and sensor of the oxygen sensor with a number, both from 1.

    Parameters
    ----------
    number : int
        0 to 7: the order of parameters 14 to 1B, 24 to 2B, 34 to 3B.
    layout : str
        "13" or "1D": the parameter by which the vehicle says which sensors it has.

    Returns
    -------
    tuple of int

    Raises
    ------
    InputError
        For another layout.

    Examples
    --------
    >>> sensor_place(2, "13"), sensor_place(2, "1D")
    ((1, 3), (2, 1))
    """
    if layout not in LAYOUTS:
        raise one_of("parameter that counts oxygen sensors", layout, LAYOUTS)
    bank, sensor = divmod(number, LAYOUTS[layout])
    return bank + 1, sensor + 1


@cache
def pid_table() -> Mapping[int, Pid]:
    """All parameters known here, by number.

    Returns
    -------
    mapping of int to Pid
    """
    text = files("witnessmark").joinpath("data/pids.toml").read_text(encoding="utf-8")
    read = tomllib.loads(text)
    lists = {name: {int(k): words for k, words in rows.items()} for name, rows in read["lists"].items()}
    return {row["n"]: _pid(row, lists) for row in read["pid"]}


def where_is(signal: str) -> tuple[Pid, Item]:
    """The first parameter that holds a signal.

    Parameters
    ----------
    signal : str
        As in a trace's role: "engine_speed", "short_trim bank=2", "lambda bank=2 sensor=1" (places by parameter 13).

    Returns
    -------
    Pid
    Item

    Raises
    ------
    InputError
        If no parameter of the standard does.
    """
    wanted = signal_of(signal)
    for pid in pid_table().values():
        for item in pid.items:
            if item.signal is not None and pid.signal_of(item) == wanted:
                return pid, item
    raise InputError(f"no parameter of the standard's current data holds “{signal}”", given=signal)


def _pid(row: dict[str, Any], lists: Mapping[str, Mapping[int, str]]) -> Pid:
    items = tuple(_item(dict(item), lists) for item in row.get("items", ()))
    words = row.get("words") or ", ".join(item.words for item in items)
    kind = row.get("kind", "values")
    return Pid(row["n"], row.get("bytes"), kind, row["mark"], words, items, row.get("sensor"))


def _item(row: dict[str, Any], lists: Mapping[str, Mapping[int, str]]) -> Item:
    over, under = row.pop("scale", (1, 1))
    scaling = Scaling(
        at=row.pop("at", 0),
        width=row.pop("bytes", 1),
        factor=over / under,
        offset=float(row.pop("offset", 0)),
        signed=row.pop("signed", False),
    )
    if "signal" in row:
        parameter = parameters()[row["signal"].split()[0]]
        row |= {"words": parameter.words, "unit": parameter.unit}
    meanings = lists[row.pop("list")] if "list" in row else {}
    return Item(scaling=scaling, meanings=meanings, **row)
