"""What a module offers is what it lists: ``__all__`` names everything public that it defines, and nothing else."""

from __future__ import annotations

import ast
from importlib import import_module

import pytest

from tests.architecture.sources import PACKAGE, Module, read_modules


def listed(module: Module) -> list[str] | None:
    """The names in ``__all__``, or None where there is none."""
    for node in module.tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
                return list(ast.literal_eval(node.value))
    return None


def offered(module: Module) -> set[str]:
    """Public functions and classes that a module defines; for a package also what it takes up from its modules."""
    found = set()
    for node in module.tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif module.is_package and isinstance(node, ast.ImportFrom) and (node.module or "").startswith(module.name):
            found |= {alias.asname or alias.name for alias in node.names}
    return {name for name in found if not name.startswith("_")}


LISTING = [module for module in read_modules() if listed(module) is not None]


@pytest.mark.parametrize("module", LISTING, ids=lambda module: module.name)
def test_all_is_complete(module: Module) -> None:
    names = listed(module) or []
    assert len(names) == len(set(names)), "a name stands twice"
    assert offered(module) <= set(names), f"not listed: {sorted(offered(module) - set(names))}"
    loaded = import_module(module.name)
    assert not [name for name in names if not hasattr(loaded, name)]


def test_the_ground_floor_lists_what_it_offers() -> None:
    names = {module.name for module in LISTING}
    assert {f"{PACKAGE}.{name}" for name in ("errors", "units", "source", "estimate", "vocabulary", "finding")} <= names


def test_an_incomplete_list_is_caught() -> None:
    module = Module(f"{PACKAGE}.signal", True, f'from {PACKAGE}.signal.edges import find\n__all__ = ["other"]')
    assert offered(module) - set(listed(module) or []) == {"find"}
