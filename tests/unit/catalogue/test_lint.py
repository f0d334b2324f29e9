"""A file of faults is refused where it names what is not there or what no fault may say (the catalogue's own rules)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.lint import lint_catalogue, lint_faults, row_digest, same_edits

GOOD = """
[[fault]]
id = "made_up"
words = "made-up fault of the {place}"
place = "wheel"
needs = "phaser"
edit = [{variable = "wheel_slip", op = "add", low = 3, high = 60, signs = "+-"}]
onset = "SIh"
prior = 3
factors = {a = 2}
repair = {job = "made_up", cause = "the {place}", minutes = "C", success = 90, words = "Renew it"}
cures = ["clutch"]
"""


def test_the_files_of_the_product_are_sound() -> None:
    assert lint_catalogue() == {}


def test_a_sound_file_passes() -> None:
    assert lint_faults(GOOD) == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('cures = ["clutch"]', 'cures = ["clutch"]\nshows = ["cam_phase_error"]', "names the quantity cam_phase_error"),
        ("[[fault]]", "# fuel_trim goes up\n[[fault]]", "names the quantity fuel_trim"),
        ("made-up fault", "sets P0016, fault", "names the code P0016"),
        ("wheel_slip", "wheel_slop", "edits 'wheel_slop', which is no state variable"),
        ('op = "add"', 'op = "worsen"', "operation 'worsen'"),
        ("high = 60", "high = 600", "beyond -180 to 180"),
        ("low = 3, high = 60", "low = 60, high = 3", "not a range"),
        ("low = 3, high = 60", "low = 3, high = 60, value = 2", "needs one of"),
        ('place = "wheel"', 'place = "wheels"', "unknown kind of place 'wheels'"),
        ('needs = "phaser"', 'needs = "luck"', "unknown need 'luck'"),
        ('cures = ["clutch"]', 'cures = ["clutches"]', "unknown job 'clutches'"),
        ("prior = 3", "prior = 0", "no count of a thousand"),
        ('onset = "SIh"', 'onset = "SIx"', "is not letters"),
        ("factors = {a = 2}", "factors = {z = 2}", "unknown factor 'z'"),
        ("factors = {a = 2}", "factors = {a = 0}", "not above 0"),
        ('minutes = "C"', 'minutes = "G"', "unknown class of minutes 'G'"),
        ("success = 90", "success = 100", "between 0 and 100"),
        ("prior = 3\n", "", "prior is missing"),
        ("prior = 3", "prior = 3\nlikely = 2", "unknown key likely"),
        ("edit = [{", "edit = []\n#", "edits nothing"),
        ("low = 3, high = 60", "whole = [[1, 0.9], [2, 0.3]]", "whole steps of wheel_slip sum to 1.2, not to 1"),
        ("low = 3, high = 60", "whole = [[1, 1.2], [2, -0.2]]", "a whole step of wheel_slip has a share of -0.2"),
        ("low = 3, high = 60", "low = 3, high = 60, to = {ground = 0.6, supply = 0.6}", "leads sum to 1.2, not to 1"),
        ("low = 3, high = 60", "low = 3, high = 60, at_rest = 1.5", "rests in a share of 1.5: 0 to 1"),
        ("repair = {", "# repair = {", "repair is missing"),
        ('job = "made_up", ', "", "job is missing"),
    ],
)
def test_what_is_wrong_is_named_with_its_fault(old: str, new: str, said: str) -> None:
    assert GOOD.count(old) >= 1
    found = lint_faults(GOOD.replace(old, new, 1))
    assert any(said in line for line in found), found
    assert any(line.startswith(("made_up: ", "names ")) for line in found)


def test_a_digest_is_of_what_a_row_does() -> None:
    rows = catalogue(SYSTEMS).rows
    assert len({row_digest(row) for row in rows}) == len(rows)
    row = rows[0]
    assert row_digest(replace(row, prior=99.0, words="other")) == row_digest(row)
    assert row_digest(replace(row, edits=({**row.edits[0], "high": 0.7},))) != row_digest(row)


def test_one_edit_under_two_names_is_named_where_sizes_meet_and_repairs_differ() -> None:
    rows = {row.id: row for row in catalogue(SYSTEMS).rows}
    leak, cracked = rows["plenum_leak"], rows["manifold_cracked"]
    assert same_edits([leak, cracked]) == (("plenum", "plenum_leak", "manifold_cracked"),)
    assert same_edits([leak, rows["runner_leak"]]) == ()  # elsewhere
    assert same_edits([leak, replace(cracked, repair=leak.repair)]) == ()  # one repair, one group
    apart = replace(cracked, edits=({**cracked.edits[0], "low": 61, "high": 80},))
    assert same_edits([leak, apart]) == ()
    assert same_edits([rows["follower_off"], rows["lobe_worn"]]) == (("valve", "follower_off", "lobe_worn"),)
    assert same_edits([rows["lash_tight"], rows["lash_loose"]]) == ()
