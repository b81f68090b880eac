"""Whether a fit can be trusted: limits as published, what fails comes first, what is missing is said."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

import triage.outcome_models
from triage.inference.diagnostics import LEAST_EFFECTIVE_SAMPLE, MOST_RHAT
from triage.outcome_models.registry import MODELS
from triage.posterior.manifest import (
    Diagnostics,
    LikelihoodChecks,
    ModelRecord,
    PredictiveCheck,
    manifest_from,
)
from triage.posterior.store import save_posterior
from triage.reports.wording.fit import check_words, p_value_words
from triage.workflows.fitting.calibration import calibrations, model_structure
from triage.workflows.fitting.model_check import model_check, rejected_fits
from triage.workflows.shop.shop import open_shop

GOOD = Diagnostics(1.002, 900.0, 800.0, 0, 0.9, "delta")
INSIDE = PredictiveCheck("repairs fixed, severity 1", "count", 41, 35, 47, 0.5, 60)
EDGE = PredictiveCheck("repairs fixed, severity 2", "count", 48, 35, 47, 0.04, 60)
FAILS = PredictiveCheck("repairs fixed, severity 3", "count", 60, 35, 47, 0.0, 60)


@pytest.fixture(scope="module")
def shop():
    return open_shop()


def judged(shop, changed=None, folder=None, calibration=None, **common):
    """A fit whose models all mixed well, but for what is changed by model."""
    record = ModelRecord(False, True, diagnostics=GOOD, predictive=(INSIDE,))
    models = {name: replace(record, **common) for name in MODELS} | (changed or {})
    manifest = replace(shop.posterior.manifest, models=models, hopeless_gap={"joint-cracked": 0.2, "x": 0.01})
    posterior = replace(shop.posterior, manifest=manifest)
    return model_check(replace(shop, posterior=posterior), None, folder, calibration=calibration)


def of(checked, model):
    return next(one for one in checked.models if one.model == model)


def test_a_good_fit_is_trusted_and_says_why(shop, tmp_path):
    checked = judged(shop, calibration=tmp_path / "none.json")
    assert checked.trust == "yes"
    assert checked.verdict.startswith("This fit can be trusted: the chains of all 6 models agree")
    success = of(checked, "success")
    assert "R-hat 1.002" in success.words and "smallest effective sample size 800" in success.words
    assert success.calibration.good is None and "No calibration result" in success.calibration.words
    assert checked.gaps == (("joint-cracked", 0.2),)


@pytest.mark.parametrize(
    ("diagnostics", "said"),
    [
        (replace(GOOD, rhat=1.02), "chains disagree"),
        (replace(GOOD, ess_bulk=399.0), "effective sample size is too low for the middle"),
        (replace(GOOD, ess_tail=20.0), "effective sample size is too low for the ends"),
        (replace(GOOD, divergences=3), "3 divergences"),
        (replace(GOOD, rhat=float("nan")), "chains disagree"),
    ],
)
def test_a_fit_past_a_published_limit_is_not(shop, diagnostics, said):
    """R-hat 1.01 and 400 draws: Vehtari et al. 2021, Bayesian Analysis 16:667 (read)."""
    assert (MOST_RHAT, LEAST_EFFECTIVE_SAMPLE) == (1.01, 400)
    bad = ModelRecord(False, False, "why", diagnostics)
    checked = judged(shop, {"comeback": bad})
    assert checked.trust == "no" and "cannot be trusted: it failed for comebacks" in checked.verdict
    assert said in of(checked, "comeback").words
    assert of(checked, "success").trust == "yes"


def test_doubts_make_it_with_care(shop):
    sluggish = ModelRecord(False, True, diagnostics=replace(GOOD, bfmi=0.2), predictive=(INSIDE,))
    high = ModelRecord(
        False, True, diagnostics=GOOD, likelihood=LikelihoodChecks(quadrature_error_99=1e-5, high_k=2.0)
    )
    misfit = ModelRecord(False, True, diagnostics=GOOD, predictive=(INSIDE, EDGE, FAILS))
    checked = judged(shop, {"comeback": sluggish, "success": high, "sale_price": misfit})
    assert checked.trust == "with care"
    assert "there are doubts about chance of repair, comebacks and sale price" in checked.verdict
    assert "energy 0.20" in of(checked, "comeback").words
    assert "2 jobs each influence it strongly" in of(checked, "success").words
    sale = of(checked, "sale_price")
    assert [check.fails for check in sale.checks] == [True, False, False]
    assert sale.checks[1] == EDGE
    assert "Resale values may be wrong" in sale.words


def test_assumptions_alone_are_said(shop):
    believed = ModelRecord(True, True, "the record lacks minutes")
    checked = judged(shop, {"bench_minutes": believed})
    assert checked.trust == "with care" and "bench minutes use assumptions only" in checked.verdict
    assert "the record lacks minutes" in of(checked, "bench_minutes").words
    nothing = judged(shop, dict.fromkeys(MODELS, believed))
    assert nothing.trust == "no" and "assumptions only" in nothing.verdict


def test_a_model_whose_own_fit_failed_says_so_and_shows_its_diagnostics(shop):
    why = "R-hat 1.019 at usual[2], allowed 1.01 (chains disagree)"
    refused = ModelRecord(True, True, why, replace(GOOD, rhat=1.019), refused=True)
    checked = judged(shop, {"bench_minutes": refused})
    assert checked.trust == "with care" and checked.verdict == (
        "This fit can be trusted with care: the chains of its other models agree, but it failed for "
        "bench minutes, so assumptions are used there."
    )
    minutes = of(checked, "bench_minutes")
    assert minutes.refused and "its fit failed: its chains disagree (R-hat 1.019)" in minutes.words
    assert {figure.name: figure.good for figure in minutes.figures}["R-hat"] is False
    assert "Assumptions only for bench minutes (the fit failed its checks)." in checked.standing.words
    missing = ModelRecord(True, True, "the record lacks sold")
    both = judged(shop, {"bench_minutes": refused, "sale_price": missing})
    assert "failed for bench minutes, so assumptions are used there, and sale price uses" in both.verdict
    assert (
        "Assumptions only for bench minutes (the fit failed its checks); sale price." in both.standing.words
    )
    only_success = judged(shop, dict.fromkeys(set(MODELS) - {"success"}, missing))
    assert only_success.trust == "with care" and of(only_success, "success").trust == "yes"


def test_without_a_fit_of_the_chances_none_can_be_trusted(shop):
    checked = judged(shop, {"success": ModelRecord(True, True, "3 divergences", GOOD, refused=True)})
    assert checked.trust == "no" and "All chances are assumptions until you run a new fit" in checked.verdict
    assert "No past job counts in the chances." in checked.standing.words
    assert checked.source.startswith("assumptions only (other figures: ")


def test_an_older_fit_without_checks_still_speaks(shop):
    checked = judged(shop, predictive=None)
    assert checked.trust == "yes" and "run a new fit to get one" in checked.verdict
    assert of(checked, "success").checks is None


def test_checks_survive_the_disk_and_an_old_manifest_has_none(shop):
    values = judged(shop).manifest.to_json()
    again = manifest_from(json.loads(json.dumps(values)))
    assert again.models["success"].predictive == (INSIDE,)
    old = json.loads(json.dumps(values))
    for record in old["models"].values():
        del record["predictive"], record["refused"]
    again = manifest_from(old)
    assert again.models["success"].predictive is None and again.refused == ()


def test_a_check_in_words():
    assert check_words(INSIDE) == "the record's 41 of 60 is inside the fit's 90 % range (35 to 47)"
    assert "just outside" in check_words(EDGE) and "one figure in ten" in check_words(EDGE)
    assert "far outside" in check_words(FAILS)
    assert [p_value_words(check) for check in (INSIDE, EDGE, FAILS)] == ["1.00", "0.08", "below 0.01"]
    minutes = PredictiveCheck("mean", "minutes", 61.24, 55, 70, 0.4)
    assert "61 min is inside the fit's 90 % range (55 to 70)" in check_words(minutes)


def test_rejected_fits_are_listed_with_what_failed(shop, tmp_path):
    failed = ModelRecord(False, False, "3 divergences", replace(GOOD, divergences=3))
    manifest = replace(shop.posterior.manifest, models={"success": failed})
    save_posterior(replace(shop.posterior, draws={}, manifest=manifest), tmp_path / "rejected-abc")
    (tmp_path / "rejected-half").mkdir()
    (fit,) = rejected_fits(tmp_path)
    assert fit.folder == "rejected-abc" and fit.failures == (("chance of repair", "3 divergences"),)
    assert fit.whole and "stronger assumptions" in fit.advice
    assert "the earlier fit stays in use" in fit.advice
    assert judged(shop, folder=tmp_path).rejected == (fit,)
    part = replace(manifest, models={**shop.posterior.manifest.models, "success": failed})
    save_posterior(replace(shop.posterior, draws={}, manifest=part), tmp_path / "rejected-abc")
    (fit,) = rejected_fits(tmp_path)
    assert not fit.whole and "assumptions for chance of repair are in use" in fit.advice


def test_calibration_speaks_only_of_the_code_it_was_made_with(tmp_path):
    path = tmp_path / "calibration.json"
    number = {"name": "job_sd", "p": 0.4, "inside_band": True}
    fine = {"shops": 200, "failed": 1, "quantities": [number], "passed": True}
    off = {
        **fine,
        "quantities": [number, {"name": "spread", "p": 0.0, "inside_band": False}],
        "passed": False,
    }
    models = {
        "success": {**fine, "structure": model_structure("success")},
        "sale_price": {**off, "structure": model_structure("sale_price")},
        "comeback": {**fine, "structure": "of-old"},
        "parts_cost": {**fine, "shops": 20, "passed": False, "structure": model_structure("parts_cost")},
    }
    path.write_text(json.dumps({"models": models, "made": "2026-11-25"}))
    found = calibrations(tuple(MODELS), path)
    assert {name: one.good for name, one in found.items()} == {
        "success": True, "sale_price": False, "comeback": None, "parts_cost": None,
        "hidden_fault": None, "bench_minutes": None,
    }  # fmt: skip
    assert "200 simulated shops" in found["success"].words
    assert "1 fit that did not converge counts against it" in found["success"].words
    path.write_text(json.dumps({"models": {"success": {**models["success"], "failed": 2}}}))
    assert (
        "2 fits that did not converge count against it" in calibrations(("success",), path)["success"].words
    )
    assert "credible intervals failed for spread" in found["sale_price"].words
    assert "of an earlier one" in found["comeback"].words
    assert "show little" in found["parts_cost"].words
    path.write_text("{")
    assert calibrations(("success",), path)["success"].good is None


def test_a_models_form_is_its_code_without_its_words(monkeypatch, tmp_path):
    assert all(model_structure(model) for model in MODELS) and model_structure("no-such-model") == ""
    monkeypatch.setattr(triage.outcome_models, "__path__", [str(tmp_path)])
    forms = []
    for text in ('"""One."""\nx = 1  # why\n', '"""Two words."""\nx = 1\n', '"""One."""\nx = 2\n'):
        (tmp_path / "comeback.py").write_text(text)
        forms.append(model_structure("comeback"))
    assert forms[0] == forms[1] != forms[2]
