"""The package's own source, read as text and as a tree, never run."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SRC = ROOT / "src"
PACKAGE = "witnessmark"

# A plug-in named in a table is imported as surely as by an import statement.
_DOTTED = re.compile(rf"{PACKAGE}(\.\w+)+")


@dataclass(frozen=True)
class Module:
    """One source file: its dotted name, whether it is a package's __init__, its text and tree."""

    name: str
    is_package: bool
    text: str

    @property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)

    @property
    def parts(self) -> tuple[str, ...]:
        """The dotted name without the package's own."""
        return tuple(self.name.split(".")[1:])

    @property
    def top(self) -> str:
        """The package (or ground-floor module) it belongs to; empty for the root's own __init__."""
        return self.parts[0] if self.parts else ""


def read_modules(source_root: Path = SRC) -> list[Module]:
    """Every module of the package under a source root."""
    found = []
    for path in sorted((source_root / PACKAGE).rglob("*.py")):
        parts = path.relative_to(source_root).with_suffix("").parts
        is_package = parts[-1] == "__init__"
        name = ".".join(parts[:-1] if is_package else parts)
        found.append(Module(name, is_package, path.read_text(encoding="utf-8")))
    return found


def imports(module: Module) -> Iterator[tuple[str, int]]:
    """Dotted names that a module imports, with their lines: statements anywhere in it, and names kept as strings."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            base = _absolute(module, node)
            for alias in node.names:
                yield f"{base}.{alias.name}", node.lineno
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and _DOTTED.fullmatch(node.value):
            yield node.value, node.lineno


def _absolute(module: Module, node: ast.ImportFrom) -> str:
    if not node.level:
        return node.module or ""
    package = module.name.split(".")
    package = package if module.is_package else package[:-1]
    package = package[: len(package) - node.level + 1]
    return ".".join([*package, *([node.module] if node.module else [])])
