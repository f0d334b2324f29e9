"""The list of faults is what can be written: every line is read back (own invariance)."""

from __future__ import annotations

import re

import pytest

from witnessmark.catalogue.faultrows import SYSTEMS
from witnessmark.catalogue.faults import fault_instances
from witnessmark.catalogue.spelt import spelt_fault
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY
from witnessmark.report.faultlist import fault_list_text

ENGINES = {name: candidate_engines(find_engine(name))[0].engine for name in ("made-up four", "made-up V6 with links")}


@pytest.mark.parametrize("engine", ENGINES.values(), ids=list(ENGINES))
def test_every_line_can_be_written(engine) -> None:
    text = fault_list_text(engine, 4000)
    lines = [line.split() for line in text.splitlines() if re.match(r"  \w", line)]
    assert {line[0] for line in lines} == {one.row.id for one in fault_instances(engine, SYSTEMS)}
    for name, *pairs in lines:
        written = [name]
        for pair in pairs:
            key, _, value = pair.partition("=")
            first = re.split(r"\||\.\.", value)[0] if key != "to" and not value.startswith("b") else value.split("|")[0]
            size = re.fullmatch(r"[±×−]?[\d.]+(?:e\+?\d+)?", first)
            if size is None or key in ("cylinder", "pair", "bank"):
                written.append(f"{key}={value.split('|')[0]}")
            else:
                written.append(f"{key}={first.translate({ord('±'): None, ord('×'): None, ord('−'): '-'})}")
        assert spelt_fault(" ".join(written), engine).on(HEALTHY).edits, written


def test_a_place_that_is_one_of_dozens_is_not_listed_whole() -> None:
    text = fault_list_text(ENGINES["made-up four"])
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "…|" in text
    assert "  coil_weak cylinder=1|2|3|4 coil_energy=×0.2..0.8\n      Coil of … weak\n" in text
    assert "  throttle_dirty area_error=−1..−26\n      Throttle dirty\n" in text
