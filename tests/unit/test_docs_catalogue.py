"""The pages say what data and code say: tables of the catalogue, numbers beside a path, headings that code cites.

``python -m tests.unit.test_docs_catalogue`` writes the tables and numbers anew.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from importlib import import_module
from itertools import chain
from pathlib import Path
from typing import Any

import pytest

from tests.architecture.sources import ROOT, SRC
from witnessmark.catalogue.codes import codes
from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.lint import same_edits
from witnessmark.engine.state import state_variables
from witnessmark.predict import Tolerance
from witnessmark.predict.codeunpredicted import why_no_chance
from witnessmark.predict.rules import rule_of
from witnessmark.predict.unpredicted import UNPREDICTED
from witnessmark.vocabulary import quantities

TEST_FILES = ("drive", "link", "scope", "gauge", "cylinder", "meter", "eyes", "interventions")
DOCS = ROOT / "docs"
DATA = SRC / "witnessmark" / "data"
PAGES = sorted(DOCS.glob("*.md"))
RENEW = "renew with: python -m tests.unit.test_docs_catalogue"


def rows_of(name: str, table: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tomllib.loads((DATA / name).read_text(encoding="utf-8"))[table]
    return found


FAULTS_OF = {system: rows_of(f"faults/{system}.toml", "fault") for system in SYSTEMS}
FAULTS = FAULTS_OF["drive"]
TESTS_OF = {name: rows_of(f"tests/{name}.toml", "test") for name in TEST_FILES}
CODES, WORKS = codes().values(), rows_of("works.toml", "work")

# ---------------------------------------------------------------- the catalogue's tables


def table(heads: str, rows: Iterator[tuple[object, ...]]) -> str:
    names = heads.split("|")
    lines = [names, ["-"] * len(names), *([str(cell) for cell in row] for row in rows)]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines)


def edit_words(edit: Mapping[str, Any]) -> str:
    """One edit of a fault as "wheel_slip ±3..60"."""
    sign = {"+": "+", "-": "−", "+-": "±", "phaser": "towards its far end by ", "opposite": "one +, one − "}
    op = {"multiply": "× ", "set": "= "}.get(edit["op"], sign[edit.get("signs", "+")])
    opened = {1e9: "open"}
    if "whole" in edit:
        size = ", ".join(f"{n} ({100 * share:g} %)" for n, share in edit["whole"])
    else:
        ends = (edit["low"], edit["high"]) if "low" in edit else (edit["value"],)
        size = "..".join(opened.get(end, f"{end:g}") for end in ends)
    where = f" of {edit['at'].replace('_', ' ')}" if "at" in edit else ""
    still = f", {100 * edit['at_rest']:g} % at rest" if "at_rest" in edit else ""
    to = ", ".join(f"{name} {100 * share:g} %" for name, share in edit.get("to", {}).items())
    return f"{edit['variable']}{where} {op}{size}{still}" + (f" to {to}" if to else "")


def edited_variables() -> list[str]:
    named = {edit["variable"] for rows in FAULTS_OF.values() for row in rows for edit in row["edit"]}
    return [name for name in state_variables() if name in named]


def state_table() -> str:
    known = state_variables()
    names = edited_variables()
    rows = (
        (v.name, v.unit, v.place, f"{v.healthy:g} ± {v.sd:g}", f"{v.low:g}..{v.high:g}".replace("1e+09", "∞"), v.note)
        for v in (known[name] for name in names)
    )
    rest = ", ".join(f"`{name}`" for name in known if name not in names)
    return table("variable|unit|place|healthy ± sd|bounds|note", rows) + f"\n\nEdited by no fault: {rest}."


def fault_table(system: str = "drive") -> str:
    return table(
        "id|in words|place|edit|onset|prior|factors|repair|minutes|success, %",
        (
            (
                f"`{row['id']}`",
                row["words"].replace("{place}", "…") + _as_set(row),
                row["place"] + (f" ({row['needs']})" if "needs" in row else ""),
                "; ".join(edit_words(edit) for edit in row["edit"]),
                row["onset"],
                f"{row['prior']:g}",
                " ".join(f"{name}{value:g}" for name, value in row.get("factors", {}).items()),
                row["repair"]["job"],
                row["repair"]["minutes"],
                f"{row['repair']['success']:g}",
            )
            for row in FAULTS_OF[system]
        ),
    )


def _as_set(row: Mapping[str, Any]) -> str:
    return f"; {100 * row['together']['share']:g} %: {row['together']['words']}" if "together" in row else ""


def same_edits_table() -> str:
    rows = catalogue(SYSTEMS).rows
    pairs = ((f"`{one}`", f"`{other}`", place.replace("_", " ")) for place, one, other in same_edits(rows))
    return table("fault|fault|at", pairs)


def others_table() -> str:
    data = tomllib.loads((DATA / "faults/drive.toml").read_text(encoding="utf-8"))
    listed = sum(row["prior"] for row in FAULTS)
    weights = [("all faults of the drive together", f"{listed:g}"), *data["others"].items()]
    minutes = ((name, *values) for name, values in data["minutes"].items())
    return (
        table("hypothesis|per 1,000 complaints", iter(weights))
        + "\n\n"
        + table("class|low|typical|high, minutes", minutes)
    )


def _yield_words(row: Mapping[str, Any]) -> str:
    """What one row yields as "misfire_count (swapped, IL)"."""
    when = f", {row['when']}" if "when" in row else ""
    words = f": {row['look_for'].replace(' ', ', ').replace('_', ' ')}" if "look_for" in row else ""
    each = row["each"].removesuffix("_heard").replace("_", " ")
    return f"{row['quantity']} ({each}{words}{when})"


def table_of_tests(name: str = "drive") -> str:
    return table(
        "id|what to do|yields|min|cover|cautions",
        (
            (
                f"`{row.get('id') or row['more']}`",
                row.get("words", "as for the timing drive, and more" if row["yields"] else "as for the timing drive"),
                "; ".join(_yield_words(y) for y in row["yields"]),
                f"{row['minutes']:g}" if "minutes" in row else "",
                row.get("cover", ""),
                " ".join(map(str, row.get("hazards", ()))),
            )
            for row in TESTS_OF[name]
        ),
    )


def cover_table() -> str:
    files = [tomllib.loads((DATA / f"tests/{name}.toml").read_text(encoding="utf-8")) for name in TEST_FILES]
    covers = (
        (name, row["words"], f"{row['minutes']:g}") for data in files for name, row in data.get("cover", {}).items()
    )
    cautions = iter(files[0]["hazard"].items())
    return table("cover|what comes off|min, off and on", covers) + "\n\n" + table("no.|caution", cautions)


def quantity_table() -> str:
    def tolerance(name: str) -> str:
        rule = rule_of(name)
        if rule is None:
            return "limits, see physics"
        if not isinstance(rule.tolerance, Tolerance):
            return "by the description"
        parts = (f"{rule.tolerance.absolute:g}", f"{100 * rule.tolerance.share:g} %")
        return " and ".join(part for part in parts if part[0] != "0" or part == "0") or "0"

    known = quantities()
    shown = [known[name] for name in known if name not in UNPREDICTED]
    rows = (
        (
            f"`{q.name}`",
            q.unit,
            ", ".join((*q.keys, *(f"({key})" for key in q.optional))),
            f"{100 * q.sd:g} %" if q.relative else f"{q.sd:g}",
            tolerance(q.name),
            q.instrument,
        )
        for q in shown
    )
    rest = ", ".join(f"`{name}`" for name in known if name in UNPREDICTED)
    heads = "quantity|unit|place|usual sd of a reading|tolerance of the described number|instrument"
    return table(heads, rows) + f"\n\nKept and shown, not weighed: {rest}."


def code_table() -> str:
    """One row for each system, what it is about and what crosses which limit."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for code in CODES:
        about = code.circuit and f"circuit ({code.circuit})"
        what = f"`{code.quantity}` {code.crossing}".strip() if code.quantity else about or "-"
        why = why_no_chance(code)
        chance = "not predicted" if why else "predicted"
        rows.setdefault((code.system.replace("_", " "), code.of.replace("_", " "), what, chance), []).append(code.id)
    return table("system|of|crosses|codes|chance", ((*key[:3], ", ".join(ids), key[3]) for key, ids in rows.items()))


def unpredicted_code_table() -> str:
    reasons: dict[str, list[str]] = {}
    for code in CODES:
        if (why := why_no_chance(code)) is not None and code.of.replace("_", " ") not in reasons.setdefault(why, []):
            reasons[why].append(code.of.replace("_", " "))
    counts = {why: sum(why_no_chance(code) == why for code in CODES) for why in reasons}
    return table("why not|of|codes", ((why, ", ".join(of), counts[why]) for why, of in reasons.items()))


def work_table() -> str:
    return table(
        "part|in words|comes near", ((r["part"], r["words"], ", ".join(r["near"]).replace("_", " ")) for r in WORKS)
    )


TABLES: dict[str, Callable[[], str]] = {
    "state": state_table,
    "faults": fault_table,
    **{f"faults_{system}": partial(fault_table, system) for system in SYSTEMS if system != "drive"},
    "same_edits": same_edits_table,
    "others": others_table,
    "tests": table_of_tests,
    **{f"tests_{name}": partial(table_of_tests, name) for name in TEST_FILES if name != "drive"},
    "covers": cover_table,
    "quantities": quantity_table,
    "codes": code_table,
    "codes_unpredicted": unpredicted_code_table,
    "works": work_table,
}


def with_tables(text: str) -> str:
    """A page with every table between its two markers written anew."""

    def renewed(match: re.Match[str]) -> str:
        return f"<!-- table {match[1]} -->\n{TABLES[match[1]]()}\n<!-- end -->"

    return re.sub(r"<!-- table (\w+) -->\n.*?<!-- end -->", renewed, text, flags=re.DOTALL)


# ---------------------------------------------------------------- numbers beside a path

_NUMBER = re.compile(r"^\| (?P<what>.+) \| (?P<value>[^|]+) \| `(?P<path>[a-z_]+\.[a-z_]+\.\w+\S*)` \|$", re.MULTILINE)
_PATH = re.compile(r"(?P<module>[a-z_]+\.[a-z_]+)\.(?P<name>\w+)(?:\[(?P<key>None|\"\w+\")\])?(?:\.(?P<field>\w+))?")


def number_at(path: str) -> str:
    """The number that a path names, as the pages write it."""
    parts = _PATH.fullmatch(path)
    assert parts is not None, path
    value: Any = getattr(import_module(f"witnessmark.{parts['module']}"), parts["name"])
    if parts["key"]:
        value = value[None if parts["key"] == "None" else parts["key"].strip('"')]
    if parts["field"]:
        value = getattr(value, parts["field"])
    several = list(value) if hasattr(value, "__len__") else [value]
    return ", ".join(f"{number:g}" for number in several)


def with_numbers(text: str) -> str:
    """A page with every number in a table row that ends in a path written anew."""
    return _NUMBER.sub(lambda row: f"| {row['what']} | {number_at(row['path'])} | `{row['path']}` |", text)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_tables_and_numbers_are_those_of_data_and_code(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for old, new in zip(text.splitlines(), with_numbers(with_tables(text)).splitlines(), strict=False):
        assert old == new, RENEW


def test_every_fault_test_and_work_is_on_the_page() -> None:
    text = "".join((DOCS / page).read_text(encoding="utf-8") for page in ("catalogue.md", "codes.md"))
    assert {match[1] for match in re.finditer(r"<!-- table (\w+) -->", text)} == set(TABLES)
    names = [row.get("id") or row["more"] for row in chain(*TESTS_OF.values())]
    names += (
        [row["id"] for row in chain(*FAULTS_OF.values())] + [code.id for code in CODES] + [row["part"] for row in WORKS]
    )
    assert not [name for name in names if not re.search(rf"\b{name}\b", text)]


def test_numbers_are_found() -> None:
    text = (DOCS / "reasoning.md").read_text(encoding="utf-8")
    assert len(_NUMBER.findall(text)) > 20
    assert with_numbers(text.replace("| 0.9 | `infer.explain.CAUSE_AT`", "| 0.8 | `infer.explain.CAUSE_AT`")) == text


# ---------------------------------------------------------------- what code and pages cite

_CITED = re.compile(r"docs/(?P<page>\w+)\.md,\s+(?:#\s+)?(?P<heads>\"[^\"]+\"(?:(?: and|,)\s+\"[^\"]+\")*)")
_LINK = re.compile(r"\]\((?P<page>[\w./-]+\.md)(?:#[\w-]+)?\)")
CITING = [
    p
    for folder in ("src", "tests", "benchmarks")
    for p in sorted((ROOT / folder).rglob("*.[pt][yo]*"))
    if p.suffix in (".py", ".toml")
]


def headings(page: str) -> set[str]:
    text = (DOCS / f"{page}.md").read_text(encoding="utf-8")
    return {line.lstrip("#").strip().lower() for line in text.splitlines() if line.startswith("#")}


def cited() -> set[tuple[str, str]]:
    texts = (path.read_text(encoding="utf-8") for path in (*CITING, *PAGES) if path != Path(__file__))
    matches = (match for text in texts for match in _CITED.finditer(text))
    heads = ((match["page"], head) for match in matches for head in re.findall(r'"([^"]+)"', match["heads"]))
    return {(page, " ".join(head.lower().split())) for page, head in heads}  # a heading may run over a line's end


def test_cited_headings_exist() -> None:
    found = cited()
    assert ("physics", "one pitch") in found
    assert not [f"docs/{page}.md, {head}" for page, head in found if head not in headings(page)]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    assert not [
        m["page"] for m in _LINK.finditer(page.read_text(encoding="utf-8")) if not (page.parent / m["page"]).exists()
    ]


def test_every_page_is_in_the_index_and_every_key_among_the_sources() -> None:
    index = (DOCS / "README.md").read_text(encoding="utf-8")
    assert not [page.name for page in PAGES if page.name != "README.md" and f"({page.name})" not in index]
    keys = set(re.findall(r"^\| \[(\w+)\] \|", (DOCS / "references.md").read_text(encoding="utf-8"), re.MULTILINE))
    used = {
        key
        for page in ("physics", "reasoning", "catalogue")
        for key in re.findall(
            r"\[(\w*_\w*|\w*\d{4}|j2012|crb|iso\d+|machinery|heywood)\](?!\()",
            (DOCS / f"{page}.md").read_text(encoding="utf-8"),
        )
    }
    assert keys
    assert not used - keys


if __name__ == "__main__":
    for each in PAGES:
        before = each.read_text(encoding="utf-8")
        after = with_numbers(with_tables(before))
        if after != before:
            each.write_text(after, encoding="utf-8")
            print(f"renewed {each.relative_to(ROOT)}")
