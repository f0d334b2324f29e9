"""What a public function's docstring must hold, read from the source.

The rules, in the order in which they are complained about:

- a docstring at all;
- Parameters, with every parameter in it; a number or an array with its unit in brackets or its shape;
- Returns (or Yields), if anything is returned; a number or an array with its unit or shape;
- Raises, if the body raises, naming each error class raised;
- in ``physics`` besides: Notes with the source of the formula, and Examples with a doctest.

Fields of public dataclasses count as parameters of the class.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from tests.architecture.sources import Module

WHERE = ("physics", "measure", "predict")

# What makes an annotation a number or an array that needs a unit or a shape.
_PHYSICAL = re.compile(r"\b(float|complex|NDArray|ndarray|ArrayLike|Array|Floats|Values|floating|float64)\b")
# A unit in brackets ([deg], [kPa], [-] for none) or a shape, on the parameter's own line or in its description.
_UNIT = re.compile(r"\[[^\[\]]+\]|\bshape\b")
# What counts as saying where a formula comes from.
_SOURCE = re.compile(
    r"\[\w+\]_|\bEqs?\.|\bTables?\b|§|\b(ISO|SAE|ASTM|ASME|DIN|CFR|CCR)\b|\b(18|19|20)\d\d\b"
    r"|common practice, no source|from memory|follows from|by definition|identity",
    re.IGNORECASE,
)
_NOT_ERRORS = {"NotImplementedError", "AssertionError"}


@dataclass
class Sections:
    """A numpydoc docstring cut at its underlined headings."""

    summary: str = ""
    text: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, docstring: str) -> Sections:
        pieces = re.split(r"^(\w[\w ]*)\n-{3,}[ ]*$", docstring, flags=re.MULTILINE)
        return cls(pieces[0], dict(zip(pieces[1::2], pieces[2::2], strict=True)))

    def entries(self, name: str) -> dict[str, str]:
        """Entries of a section: what stands before the colon -> the whole entry. ``a, b : float`` makes two."""
        found: dict[str, str] = {}
        current: list[str] = []
        for line in self.text.get(name, "").splitlines():
            if line and not line[0].isspace():
                names = line.split(" : ")[0].split(":")[0]
                current = [part.strip().lstrip("*") for part in names.split(",")]
            for one in current:
                found[one] = found.get(one, "") + line + "\n"
        return found


def missing_in(module: Module) -> list[str]:
    """Everything that the docstrings of one module's public functions and dataclasses lack."""
    return [line for name, node in _public(module.tree) for line in _lacks(module, name, node)]


def _public(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node.name, node
            if isinstance(node, ast.ClassDef):
                yield from ((f"{node.name}.{m.name}", m) for m in _methods(node))


def _methods(node: ast.ClassDef) -> Iterator[ast.FunctionDef]:
    for inner in node.body:
        if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
            yield inner


def _lacks(module: Module, name: str, node: ast.FunctionDef | ast.ClassDef) -> Iterator[str]:
    where = f"{module.name}.{name}:{node.lineno}"
    docstring = ast.get_docstring(node)
    if not docstring:
        yield f"{where}: no docstring"
        return
    sections = Sections.of(docstring)
    if isinstance(node, ast.ClassDef):
        yield from (f"{where}: {line}" for line in _parameters(_fields(node), sections))
        return
    if "property" in {ast.unparse(d).split(".")[-1] for d in node.decorator_list}:
        if _is_physical(node.returns) and not _UNIT.search(docstring):
            yield f"{where}: a property with neither unit [in brackets] nor shape"
        return
    yield from (f"{where}: {line}" for line in _parameters(_arguments(node), sections))
    yield from (f"{where}: {line}" for line in _returns(node, sections))
    yield from (f"{where}: {line}" for line in _raises(node, sections))
    if module.top == "physics":
        yield from (f"{where}: {line}" for line in _physics(sections))


def _fields(node: ast.ClassDef) -> list[tuple[str, ast.expr | None]]:
    if not any("dataclass" in ast.unparse(decorator) for decorator in node.decorator_list):
        return []
    rows = [row for row in node.body if isinstance(row, ast.AnnAssign) and isinstance(row.target, ast.Name)]
    return [(ast.unparse(row.target), row.annotation) for row in rows if not ast.unparse(row.target).startswith("_")]


def _arguments(node: ast.FunctionDef) -> list[tuple[str, ast.expr | None]]:
    a = node.args
    every = [*a.posonlyargs, *a.args, *a.kwonlyargs, *filter(None, (a.vararg, a.kwarg))]
    return [(arg.arg, arg.annotation) for arg in every if arg.arg not in ("self", "cls")]


def _is_physical(annotation: ast.expr | None) -> bool:
    return annotation is not None and bool(_PHYSICAL.search(ast.unparse(annotation)))


def _parameters(wanted: list[tuple[str, ast.expr | None]], sections: Sections) -> Iterator[str]:
    if wanted and "Parameters" not in sections.text:
        yield "no section Parameters"
        return
    entries = sections.entries("Parameters")
    for name, annotation in wanted:
        if name not in entries:
            yield f"Parameters does not name {name}"
        elif _is_physical(annotation) and not _UNIT.search(entries[name]):
            yield f"{name} has neither unit [in brackets] nor shape"


def _returns(node: ast.FunctionDef, sections: Sections) -> Iterator[str]:
    if node.returns is None or ast.unparse(node.returns) in ("None", "NoReturn"):
        return
    text = sections.text.get("Returns") or sections.text.get("Yields")
    if not text:
        yield "no section Returns"
    elif _is_physical(node.returns) and not _UNIT.search(text):
        yield "Returns has neither unit [in brackets] nor shape"


def _raises(node: ast.FunctionDef, sections: Sections) -> Iterator[str]:
    raised = [inner.exc for inner in _own_nodes(node) if isinstance(inner, ast.Raise) and inner.exc is not None]
    names = {ast.unparse(exc.func if isinstance(exc, ast.Call) else exc).split(".")[-1] for exc in raised}
    names -= _NOT_ERRORS
    if names and "Raises" not in sections.text:
        yield "it raises, and has no section Raises"
        return
    for name in sorted(names):
        # A lower-case name is a function or variable that holds the error; what class it is cannot be read here.
        if name[:1].isupper() and name not in sections.text["Raises"]:
            yield f"Raises does not name {name}"


def _own_nodes(node: ast.AST) -> Iterator[ast.AST]:
    """Nodes of a function without those of the functions inside it."""
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, ast.FunctionDef | ast.Lambda | ast.ClassDef):
            yield child
            yield from _own_nodes(child)


def _physics(sections: Sections) -> Iterator[str]:
    notes = sections.text.get("Notes")
    if not notes:
        yield "no section Notes"
    elif not _SOURCE.search(notes):
        yield "Notes does not say where the formula comes from"
    if ">>>" not in sections.text.get("Examples", ""):
        yield "no Examples with a doctest"
