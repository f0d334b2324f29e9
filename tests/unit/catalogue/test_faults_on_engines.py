"""The catalogue's rows laid out on every shipped engine: own invariances, and what the file format promises."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.catalogue.faults import catalogue, fault_instances
from witnessmark.catalogue.places import place_kinds, places_of
from witnessmark.catalogue.works import job, jobs
from witnessmark.engine.drive import CRANK
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.engine.state import HEALTHY, state_variables
from witnessmark.errors import InputError

DRIVE = ("drive",)

ENGINES = {known.name: find_engine(known.name) for known in known_engines()}
ROWS = {row.id: row for row in catalogue(DRIVE).rows}
ABSENT_PHASER = ("made-up six with one cam", "made-up three with belt")
everywhere = pytest.mark.parametrize("name", sorted(ENGINES))


def instances(name):
    return fault_instances(ENGINES[name], DRIVE)


def applies(row, engine) -> bool:
    """What an engine must have for a row to befall it, read from the description by itself."""
    drive = engine.drive
    kinds = {stage.kind for stage in drive.stages}
    if row.needs == "phaser":
        return any(phaser.presence > 0.0 for _, phaser in drive.phasers)
    if row.needs == "reluctance":
        return any(wheel.sensor_kind in (None, "reluctance") for wheel in engine.wheels)
    if row.place in ("chain", "span"):
        return "chain" in kinds
    if row.place == "bank":
        return any(cam.kind == "intake" for cam in engine.cams)
    if row.place == "cam_zero":
        return engine.reporting.learns is not False
    return True


@everywhere
def test_every_row_has_its_places(name):
    found = {instance.row.id for instance in instances(name)}
    assert found == {row.id for row in catalogue(DRIVE).rows if applies(row, ENGINES[name])}


@everywhere
def test_a_rows_prior_is_the_whole_engines(name):
    shares: dict[str, float] = {}
    for instance in instances(name):
        assert 0.0 <= instance.share <= 1.0
        shares[instance.row.id] = shares.get(instance.row.id, 0.0) + instance.share
    assert max(shares.values()) <= 1.0 + 1e-12


@pytest.mark.parametrize("name", ABSENT_PHASER)
def test_no_fault_of_a_part_that_is_not_fitted(name):
    assert min(instance.share for instance in instances(name)) > 0.0


@everywhere
def test_the_ways_of_a_fault_sum_to_one(name):
    for instance in instances(name):
        assert sum(kind.weight for kind in instance.kinds) == pytest.approx(1.0, abs=1e-12), instance.key


@everywhere
def test_no_two_instances_are_the_same(name):
    keys = [instance.key for instance in instances(name)]
    assert len(keys) == len(set(keys))
    words = [instance.words for instance in instances(name)]
    assert not [text for text in words if "{" in text or text[0] != text[0].upper()]


@everywhere
def test_no_two_faults_are_called_the_same(name):
    words = [instance.words for instance in instances(name)]
    assert len(words) == len(set(words))


@everywhere
def test_severities_stay_within_what_is_possible(name):
    known = state_variables()
    for instance in instances(name):
        for kind in instance.kinds:
            for end in (0.0, 1.0):
                theta = np.array([[float(axis.at(np.array(end))) for axis in kind.axes]]).reshape(1, -1)
                state = HEALTHY.edited(kind.changes(theta))
                for (variable, _), value in state.edits.items():
                    v = known[variable]
                    # A fault adds to what is healthy, and the healthy mean may stand off zero.
                    assert v.low - 1e-9 <= float(np.squeeze(value)) <= v.high + v.healthy + 1e-9, (
                        instance.key,
                        variable,
                    )


@everywhere
def test_every_fault_edits_something_at_a_place_the_engine_has(name):
    engine = ENGINES[name]
    ids = {CRANK, *(cam.id for cam in engine.cams), *(f"cam_zero:{cam.id}" for cam in engine.cams)}
    ids |= {stage.id for stage in engine.drive.stages}
    ids |= {stage.mesh(sprocket.shaft) for stage in engine.drive.stages for sprocket in stage.sprockets}
    for instance in instances(name):
        edits = [term for kind in instance.kinds for term in kind.terms]
        assert edits, instance.key
        assert {term.place for term in edits} <= ids, instance.key
        assert {term.variable for term in edits} <= set(state_variables())


def test_both_signs_and_whole_steps():
    """One pitch 72 %, two 20 %, three 8 %, either way alike (the row's own shares, our guess); wear one way only."""
    found = {i.key: i for i in instances("made-up four")}
    jumped = found[("chain_jumped", "primary.b1.intake")]
    ways = {next(t.amount for t in k.terms if t.variable == "pitch_slip"): k.weight for k in jumped.kinds}
    assert ways == pytest.approx(
        {s * n: 0.5 * share for s in (1.0, -1.0) for n, share in ((1, 0.72), (2, 0.2), (3, 0.08))}
    )
    assert len(found[("chain_worn", "primary")].kinds) == 1


def test_a_stuck_phaser_is_held_the_way_its_phaser_moves():
    found = {i.key: i for i in instances("made-up four")}
    for cam, sign in (("b1.intake", 1.0), ("b1.exhaust", -1.0)):  # ranges +50 and -45
        kinds = found[("phaser_stuck", cam)].kinds
        held = {t.amount for k in kinds for t in k.terms if t.variable == "phaser_rest"}
        assert held == {sign}
        rest = [k.weight for k in kinds if not any(t.variable == "phaser_rest" for t in k.terms)]
        assert rest == [0.5]


def test_a_key_holds():
    """The crank wheel of the demonstration hangs on its bolt alone, the cam wheels on keys: five times as unlikely
    (our guess).
    """
    share = {i.where.id: i.share for i in instances("made-up four") if i.row.id == "wheel_slipped"}
    assert share[CRANK] / share["b1.intake"] == pytest.approx(5.0)


@pytest.mark.parametrize("row", sorted(ROWS))
def test_severity_axes_go_there_and_back(row):
    for instance in instances("made-up four with idler"):
        if instance.row.id == row:
            for axis in instance.kinds[0].axes:
                share = np.linspace(0.0, 1.0, 11)
                np.testing.assert_allclose(axis.share(axis.at(share)), share, atol=1e-12)
                assert axis.at(np.array([0.0, 1.0])) == pytest.approx([axis.low, axis.high])
                middle = float(axis.at(np.array(0.5)))
                halfway = (axis.low * axis.high) ** 0.5 if axis.low > 0.0 else 0.5 * (axis.low + axis.high)
                assert middle == pytest.approx(halfway)  # log-uniform, or uniform from zero


@pytest.mark.parametrize("row", sorted(ROWS))
def test_rows_are_whole(row):
    entry = ROWS[row]
    assert entry.prior > 0.0
    assert 0.0 < entry.repair.success < 1.0
    assert entry.repair.minutes[0] < entry.repair.minutes[1] < entry.repair.minutes[2]
    assert set(entry.factors) <= set("akow")
    assert set(entry.onset) <= set("SLWIhcwvlf")
    for part in entry.repair.cures:
        assert job(part).part == part  # every part whose renewal would cure is a job that can be told


def test_one_repair_one_group_where_the_same_job_cures():
    """A worn chain, a worn guide and a jumped chain are cured by the same chain set."""
    keys = {i.row.id: i.repair_key for i in instances("made-up four") if i.where.scope == "primary"}
    assert keys["chain_worn"] == keys["guide_worn"] == keys["chain_jumped"] == ("chain_set", "primary")
    assert keys["tensioner_weak"] != keys["chain_worn"]


# ---------------------------------------------------------------- works


def test_works_come_near_places_that_exist():
    zones = {
        z for engine in ENGINES.values() for kind in place_kinds() for p in places_of(engine, kind) for z in p.zones
    }
    near = {zone for work in jobs().values() for zone in work.near}
    assert near == zones  # and every place has a job that comes near it


def test_an_unknown_part_is_refused_with_the_nearest():
    with pytest.raises(InputError, match="crank_seal"):
        job("crank_sael")
