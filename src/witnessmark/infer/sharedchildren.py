"""Which nodes of the supply graph a finding speaks of, and what it says of them: its children's own state."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.catalogue.codes import Code, codes
from witnessmark.engine.drive import CRANK
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_names import CAM_PARTS, cam_node
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.predict.codenames import meant
from witnessmark.predict.codes import cam_of_code

__all__ = ["Child", "children_of", "nodes_of"]

_KEYS = ("node", "other_node", "module", "actuator", "sensor", "position")
_ALIKE = (*CAM_PARTS, "o2_front", "o2_rear")  # one node may stand for all of a kind


@dataclass(frozen=True, slots=True)
class Child:
    """What is known of one node, for people.

    Parameters
    ----------
    node : str
    set_codes, silent_codes, not_run : tuple of str
        Codes set; codes not set though their monitor ran, or was not said not to have; codes whose monitor has not run.
    readings : tuple of Finding
        Everything else that was read there.
    """

    node: str
    set_codes: tuple[str, ...] = ()
    silent_codes: tuple[str, ...] = ()
    not_run: tuple[str, ...] = ()
    readings: tuple[Finding, ...] = ()


def nodes_of(engine: Engine, finding: Finding, *, every: bool = False) -> tuple[str, ...]:
    """The nodes that a finding speaks of, the nearest first.

    Parameters
    ----------
    engine : Engine
    finding : Finding
    every : bool
        With all the nodes that a letter may mean, not the likeliest alone.

    Returns
    -------
    tuple of str
        Empty where it speaks of no single node: of the whole engine, of a part that is none.
    """
    graph = supply_of(engine)
    code = codes().get(str(finding.place.get("code")))
    if code is None:
        names = [str(finding.place.get(key)) for key in _KEYS if finding.place.get(key) is not None]
    else:
        names = _of_code(engine, code)
        names = names if every else names[:1]
    return tuple(dict.fromkeys(one for name in names if (one := _node(graph, name)) is not None))


def children_of(engine: Engine, findings: Sequence[Finding]) -> Mapping[str, Child]:
    """Every node that a finding speaks of, with what they say together.

    Parameters
    ----------
    engine : Engine
    findings : sequence of Finding

    Returns
    -------
    mapping of str to Child
        By node id.
    """
    idle = {str(f.place.get("code")) for f in findings if f.quantity == "monitor_ran" and f.value < 0.5}
    lists: dict[str, tuple[list[str], list[str], list[str], list[Finding]]] = {}
    for finding in findings:
        code = str(finding.place.get("code"))
        for name in nodes_of(engine, finding):
            said, silent, not_run, readings = lists.setdefault(name, ([], [], [], []))
            if finding.quantity == "monitor_ran":
                continue
            if finding.quantity != "code_state":
                readings.append(finding)
            elif finding.value > 0.5:
                said.append(code)
            else:
                (not_run if code in idle else silent).append(code)
    return {
        name: Child(name, tuple(said), tuple(silent), tuple(not_run), tuple(readings))
        for name, (said, silent, not_run, readings) in lists.items()
    }


def _of_code(engine: Engine, code: Code) -> list[str]:
    """Names of the parts that a code may mean, the likeliest first."""
    if code.of in ("crank", "speed_input"):
        return [CRANK]
    if code.of in ("cam", "cam_cold") and engine.cams:
        return [cam_node("oil_valve" if code.kind == "actuator" else "cam", cam_of_code(engine, code))]
    if code.of == "cam":
        return ["cam"]
    if code.of == "cylinder" and code.cylinder is not None:
        return [f"coil_{code.cylinder}"]
    if code.part in ("coils", "injectors"):
        return [f"{code.part.removesuffix('s')}_{k}" for k in range(1, engine.cylinders + 1)]
    module = dict(code.place).get("module")
    found = [name for name, _ in sorted(meant(engine, code), key=lambda one: -one[1])] if code.part else []
    return found or ([str(module)] if module else [])


def _node(graph: SupplyGraph, name: str) -> str | None:
    """A node by its name, by that of a cam ("b1.intake"), else the one that stands for all of its kind."""
    names = (name, cam_node("cam", name), *(kind for kind in _ALIKE if name.startswith(f"{kind}_")))
    return next((one for one in names if graph.has(one)), None)
