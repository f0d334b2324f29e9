"""Reading a supply graph: TOML in, :class:`~witnessmark.engine.supply.SupplyGraph` out.

In an engine's description the same keys stand under ``[supply]``.

::

    name = "made-up four"
    parts = ["ecu", "gearbox"]                   named without being described
    node = [
     {id="batt", kind="battery"},
     {id="r1", kind="relay", from="batt", coil="ecu.12"},
     {id="g1", kind="ground", from="batt", zone="head"},
     {id="fan", kind="load", from="r1", ground="g1", load_ohm=0.6},
    ]

Numbers are written as in an engine description; left out means not known. pydantic is imported only when one is read.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from witnessmark.engine.number import Number
from witnessmark.engine.refusal import not_toml, refuse_absurd, shape_complaints
from witnessmark.engine.supply import USUAL_PARTS, SupplyGraph, SupplyNode
from witnessmark.engine.supply_check import supply_complaints
from witnessmark.engine.written import INHERITED
from witnessmark.source import UNSTATED, Source

if TYPE_CHECKING:
    from witnessmark.engine.supply_schema import SupplyFile, SupplyNodeFile

__all__ = ["graph_of", "supply_from_mapping", "supply_from_toml"]


def supply_from_toml(text: str, *, where: str = "", name: str = "") -> SupplyGraph:
    """The supply graph that a TOML text describes.

    Parameters
    ----------
    text : str
    where : str
        Its file, for messages.
    name : str
        Used where the text gives no name.

    Returns
    -------
    SupplyGraph

    Raises
    ------
    FormatError
        If it is not TOML.
    EngineDefinitionError
        If it says what cannot be, with the id of the node.
    """
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise not_toml(error, text, where) from error
    return supply_from_mapping(given, where=where, name=name)


def supply_from_mapping(given: Mapping[str, Any], *, where: str = "", name: str = "") -> SupplyGraph:
    """The supply graph that nested tables describe.

    Parameters
    ----------
    given : mapping
    where : str
        Where it stands, for messages.
    name : str
        Used where it gives no name.

    Returns
    -------
    SupplyGraph

    Raises
    ------
    FormatError
        For what no description holds: numbers of very many digits, tables without end.
    EngineDefinitionError
        If it says what cannot be: the first thing with the id of its node, and how many more there are.
    """
    refuse_absurd(given, where)
    model = _validated(given, where)
    graph = graph_of(model, name=name or "supply")
    found = supply_complaints(graph)
    if found:
        raise found[0].error(where, more=len(found) - 1)
    return graph


def graph_of(model: SupplyFile, *, name: str = "", source: Source = UNSTATED) -> SupplyGraph:
    """The graph of a description whose shape has been checked; what it says together has not.

    Parameters
    ----------
    model : SupplyFile
    name : str
        Used where it gives no name.
    source : Source
        Of the numbers, where neither they nor the graph name one.

    Returns
    -------
    SupplyGraph
    """
    source = source if model.source is INHERITED else model.source
    parts = USUAL_PARTS if model.parts is None else tuple(model.parts)
    return SupplyGraph(model.name or name, tuple(_node(one, source) for one in model.node), parts, source)


def _node(one: SupplyNodeFile, source: Source) -> SupplyNode:
    # A word left empty says nothing: nodes with an empty zone are not in one place together.
    said: dict[str, Any] = {
        key: None if getattr(one, key) == "" else getattr(one, key) for key in type(one).model_fields
    }
    for key, value in said.items():
        if isinstance(value, Number) and value.source is INHERITED:
            said[key] = replace(value, source=source)
    return SupplyNode(**{**said, "beside": tuple(one.beside), "ends": tuple(one.ends)})


def _validated(given: Mapping[str, Any], where: str) -> SupplyFile:
    from pydantic import ValidationError

    from witnessmark.engine.supply_schema import SupplyFile

    try:
        return SupplyFile.model_validate(dict(given))
    except ValidationError as error:
        found = shape_complaints(error, given, SupplyFile)
        raise found[0].error(where, more=len(found) - 1) from None
