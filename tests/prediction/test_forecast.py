import dataclasses
import subprocess
import sys

import numpy as np
import pytest
from scipy.special import expit

from tests.prediction.made_draws import made_posterior
from triage.domain.catalogue import load_catalogue
from triage.domain.shop.settings import Settings
from triage.domain.units.unit import Finding, Unit
from triage.errors import PosteriorError, StalePosteriorError
from triage.prediction.bench_minutes import attempt_minutes
from triage.prediction.forecast import forecast_unit
from triage.prediction.parts_cost import mean_parts_ratio
from triage.prediction.sale_price import mean_sale_ratio
from triage.prediction.success import success_logits
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS, SETTINGS = load_catalogue(), PriorSet(), Settings("test", "EUR")
POSTERIOR = made_posterior(CATALOGUE, draws=400)
WRECK = Unit(
    "a bent one",
    "middle",
    (
        Finding("board-bent", 3),
        Finding("frame-bent"),
        Finding("back-glass-cracked"),
        Finding("port-pins-damaged", 1),
        Finding("earpiece-weak", chance=0.4),
    ),
    symptoms=("no-power",),
    technician="north-bench",
)


def forecast(unit=WRECK, posterior=POSTERIOR, **options):
    return forecast_unit(unit, CATALOGUE, posterior, PRIORS, SETTINGS, **options)


@pytest.fixture(scope="module")
def wreck():
    return forecast()


def test_axes(wreck):
    scenarios, paths = 400 * 9, 4000
    assert wreck.weights.shape == wreck.draw.shape == (scenarios,)
    assert wreck.weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert wreck.path_scenario.shape == (paths,) and wreck.path_scenario.max() < scenarios
    for told in wreck.repairs.values():
        assert told.chance.shape == (scenarios,) and np.all((told.chance > 0) & (told.chance < 1))
        for name in ("minutes_fixed", "minutes_failed", "parts_ratio", "comebacks"):
            values = getattr(told, name)
            assert values.shape == (paths,) and np.all(np.isfinite(values)) and np.all(values > 0), name
        assert all(after.shape == (scenarios,) for after in told.chance_after.values())
    assert all(chance.shape == (scenarios,) for chance in wreck.hidden.values())
    assert all(ratio.shape == (paths,) for ratio in wreck.sale_ratio)


def test_every_repair_of_every_present_or_possible_kind_is_forecast(wreck):
    kinds = {f.kind for f in WRECK.findings} | set(wreck.hidden)
    kinds |= {kind for shares in wreck.causes.values() for kind in shares}
    expected = {(kind, repair.slug) for kind in kinds for repair in CATALOGUE.repairs_for(kind)}
    assert set(wreck.repairs) == expected


def test_hidden_faults_are_those_that_a_finding_raises(wreck):
    assert set(wreck.hidden) == {*CATALOGUE.kinds["board-bent"].raises, *CATALOGUE.kinds["frame-bent"].raises}
    assert not forecast(Unit("plain", "middle", (Finding("cell-worn"),))).hidden


def test_a_hidden_kind_already_found_is_not_hidden():
    found = dataclasses.replace(WRECK, findings=(*WRECK.findings, Finding("joint-cracked")))
    assert "joint-cracked" not in forecast(found).hidden


def test_a_suspect_battery_brings_the_hidden_cell_fault():
    plain = Unit("plain", "middle", (Finding("camera-dead"),))
    assert set(forecast(dataclasses.replace(plain, battery="suspect")).hidden) == {"cell-bent"}
    assert not forecast(dataclasses.replace(plain, battery="not-seen")).hidden


def test_one_repair_is_one_forecast_led_by_the_first_seen_kind_it_closes(wreck):
    shared = wreck.repairs["frame-bent", "swap-housing"]
    assert shared is wreck.repairs["back-glass-cracked", "swap-housing"]
    closes = CATALOGUE.repairs["swap-housing"].closes
    assert shared.lead == next(kind for kind in closes if kind in {"frame-bent", "back-glass-cracked"})


def test_a_suspected_kind_does_not_lead_over_a_seen_one():
    first, second = CATALOGUE.repairs["swap-housing"].closes[:2]
    told = forecast(Unit("x", "middle", (Finding(first, chance=0.3), Finding(second))))
    assert told.repairs[second, "swap-housing"].lead == second
    alone = forecast(Unit("x", "middle", (Finding(first, chance=0.3),)))
    assert alone.repairs[first, "swap-housing"].lead == first


def test_comebacks_add_up_over_what_a_repair_closes(wreck):
    shared = wreck.repairs["frame-bent", "swap-housing"]
    alone = forecast(dataclasses.replace(WRECK, findings=(Finding("frame-bent"),)))
    # Both findings are of one family, so the hazard doubles.
    assert shared.comebacks == pytest.approx(2 * alone.repairs["frame-bent", "swap-housing"].comebacks)


def test_an_unseen_fault_has_the_middle_severity(wreck):
    assert wreck.repairs["port-pins-damaged", "resolder-port"].severity == 1
    assert {wreck.repairs[k, r].severity for k, r in wreck.repairs if k in wreck.hidden} == {2}


def test_chance_averages_to_that_of_a_fresh_job(wreck):
    draws = POSTERIOR.draws["success"]
    logits = success_logits(draws, CATALOGUE, ["frame-bent"], [2], ["middle"])
    fresh = expit(logits)[:, 0]
    told = wreck.repairs["frame-bent", "straighten-frame"]
    assert np.bincount(wreck.draw, wreck.weights * told.chance) * 400 == pytest.approx(fresh, abs=1e-6)


def test_a_failed_first_method_lowers_the_chance_of_a_second(wreck):
    second = wreck.repairs["port-pins-damaged", "swap-charge-board"]
    assert np.all(second.chance_after["resolder-port"] < second.chance)
    only = wreck.repairs["earpiece-weak", CATALOGUE.usual_method("earpiece-weak")]
    assert set(only.chance_after) == {r.slug for r in CATALOGUE.repairs_for("earpiece-weak")[1:]}


def test_paths_represent_draws_and_luck(wreck):
    """The mean over paths is the closed-form mean, to Monte Carlo error of 4000 paths."""
    held = POSTERIOR.draws
    told = wreck.repairs["frame-bent", "straighten-frame"]
    for fixed, drawn in ((True, told.minutes_fixed), (False, told.minutes_failed)):
        exact = attempt_minutes(
            held["bench_minutes"], "frame-bent", 2, fixed, CATALOGUE, PRIORS.bench_minutes
        ).mean()
        assert abs(drawn.mean() - exact.mean()) < 4 * drawn.std() / np.sqrt(4000)
    ratio = mean_parts_ratio(held["parts_cost"], "housing").mean()
    assert abs(told.parts_ratio.mean() - ratio) < 4 * told.parts_ratio.std() / np.sqrt(4000)
    for grade, drawn in enumerate(wreck.sale_ratio):
        exact = mean_sale_ratio(held["sale_price"], "middle", grade).mean()
        assert abs(drawn.mean() - exact) < 4 * drawn.std() / np.sqrt(4000)
    # Every draw lives on as many paths as every other, give or take one.
    lives = np.bincount(wreck.draw[wreck.path_scenario], minlength=400)
    assert lives.min() >= 9 and lives.max() <= 11


def test_shared_levels_are_what_paths_of_a_draw_average_to():
    """Forty draws of a thousand paths each: their means move as the levels do, to Monte Carlo error."""
    few = made_posterior(CATALOGUE, draws=40)
    told = forecast(posterior=few, paths=40_000)
    repair, draw = told.repairs["frame-bent", "straighten-frame"], told.draw[told.path_scenario]
    order = np.argsort(draw, kind="stable")
    pairs = [
        (repair.minutes_fixed, repair.shared.minutes_fixed),
        (repair.minutes_failed, repair.shared.minutes_failed),
        (repair.parts_ratio, repair.shared.parts),
        (repair.comebacks, repair.shared.comebacks),
        *zip(told.sale_ratio, told.shared_sale.level, strict=True),
    ]
    for paths, level in pairs:
        assert level.shape == (40,) and level.mean() == pytest.approx(1.0)
        by_draw = paths[order].reshape(40, -1)
        error = by_draw.std(axis=1, ddof=1) / np.sqrt(by_draw.shape[1])
        assert (abs(by_draw.mean(axis=1) - level * paths.mean()) < 4.5 * error + 5e-3 * paths.mean()).all()
    # The levels differ by more than that error, so that the comparison tells something.
    assert repair.shared.minutes_fixed.std() > 0.1 and told.shared_sale.level[0].std() > 0.01
    assert told.shared_sale.spread == pytest.approx(few.draws["sale_price"]["spread"].values)


def test_the_same_input_gives_the_same_output_and_another_seed_other_luck(wreck):
    again, other = forecast(), forecast(seed=1)
    key = ("frame-bent", "straighten-frame")
    assert np.array_equal(again.repairs[key].minutes_fixed, wreck.repairs[key].minutes_fixed)
    assert not np.array_equal(other.repairs[key].minutes_fixed, wreck.repairs[key].minutes_fixed)
    assert np.array_equal(other.repairs[key].chance, wreck.repairs[key].chance)


def test_one_more_finding_does_not_change_the_luck_of_the_others(wreck):
    more = forecast(dataclasses.replace(WRECK, findings=(*WRECK.findings, Finding("camera-dead"))))
    key = ("port-pins-damaged", "resolder-port")
    assert np.array_equal(more.repairs[key].minutes_fixed, wreck.repairs[key].minutes_fixed)


def test_fewer_draws_are_spread_over_all_of_them():
    few = forecast(draws=50, nodes=5)
    assert few.weights.shape == (250,)
    full, thin = (
        f.repairs["frame-bent", "straighten-frame"].chance.reshape(-1, 5) for f in (forecast(nodes=5), few)
    )
    taken = [int(np.flatnonzero((full == row).all(axis=1))[0]) for row in thin]
    assert (taken[0], taken[-1]) == (0, len(full) - 1)
    assert np.ptp(np.diff(taken)) <= 1  # evenly, to the whole draw


def test_the_attempts_behind_a_chance_are_counted():
    key, other = ("port-pins-damaged", "resolder-port"), ("port-pins-damaged", "swap-charge-board")
    told = forecast().repairs
    assert (told[key].attempts, told[key].fixed, told[key].prior_only) == (10, 8, False)
    assert told[other].prior_only  # no attempt is recorded under its name
    manifest = dataclasses.replace(POSTERIOR.manifest, methods={"swap-charge-board": 3})
    assert not forecast(posterior=dataclasses.replace(POSTERIOR, manifest=manifest)).repairs[other].prior_only
    models = {n: dataclasses.replace(r, belief_only=True) for n, r in POSTERIOR.manifest.models.items()}
    believed = dataclasses.replace(POSTERIOR.manifest, models=models)
    belief = forecast(posterior=dataclasses.replace(POSTERIOR, manifest=believed))
    assert belief.repairs[key].prior_only and belief.source == "assumptions only"


def test_draws_that_are_missing_or_of_another_catalogue_are_refused():
    held = {name: found for name, found in POSTERIOR.draws.items() if name != "comeback"}
    with pytest.raises(PosteriorError, match="the stored fit lacks comeback"):
        forecast(posterior=dataclasses.replace(POSTERIOR, draws=held))
    minutes = POSTERIOR.draws["bench_minutes"].drop_sel(kind="frame-bent")
    stale = dataclasses.replace(POSTERIOR, draws=POSTERIOR.draws | {"bench_minutes": minutes})
    with pytest.raises(StalePosteriorError, match="frame-bent"):
        forecast(posterior=stale)


def test_no_sampler_is_imported():
    code = "import sys, triage.prediction.forecast; print({'pymc', 'arviz', 'nutpie'} & set(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"
