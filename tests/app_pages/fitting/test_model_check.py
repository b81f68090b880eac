"""The model check: the demo, a good and a failed fit, assumptions only, broken draws."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from triage.app_pages.fitting import fit_learning
from triage.app_pages.shared import long_work_panel
from triage.domain.history import History
from triage.posterior.manifest import Diagnostics, Fading, ModelRecord, PredictiveCheck
from triage.posterior.store import save_posterior
from triage.posterior.versions import versions
from triage.shipped import shipped
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.shop import DEMO_POSTERIOR, open_shop
from triage.workflows.shop.shop_history import ShopHistory

HOSTILE = "<b>x</b> $y$ [z](http://w)"
ESCAPED = r"\<b\>x\</b\> \$y\$ \[z\]\(http"
GOOD = Diagnostics(1.002, 900.0, 800.0, 0, 0.9, HOSTILE)


@pytest.fixture(scope="module")
def demo():
    found = open_shop().posterior
    few = {name: draws.isel(draw=slice(30)) for name, draws in found.draws.items()}
    return replace(found, draws=few)


@pytest.fixture
def page(record):
    """The page by itself: the others are drawn in their own tests."""

    def drawn():
        from triage.app_pages.fitting.model_check import page

        page()

    return AppTest.from_function(drawn, default_timeout=60)


@pytest.fixture
def fitted(demo):
    """A posterior in the demo's draws, with another manifest."""

    def fitted(changed=None, **manifest):
        models = {
            name: replace(one, diagnostics=GOOD, predictive=()) for name, one in demo.manifest.models.items()
        }
        told = replace(demo.manifest, models=models | (changed or {}), stored_at="", **manifest)
        return replace(demo, manifest=told)

    return fitted


def text(page):
    drawn = (page.markdown, page.caption, page.info, page.warning, page.error, page.success, page.title)
    return "\n".join(element.value for kind in drawn for element in kind)


def test_the_demo_is_judged_and_offers_no_learning_from_invented_jobs(page):
    page.run()
    assert not page.exception
    said = text(page)
    assert "This fit can be trusted" in said and "invented demo shop: there is no fit" in said
    assert "These jobs are invented" in said
    assert len(page.expander) >= 6 and len(page.table) == 6
    assert "fit-start" not in [button.key for button in page.button]


def test_a_learned_fit_is_used_and_hostile_words_stay_words(page, fitted):
    misfit = PredictiveCheck(f"repairs fixed, {HOSTILE}", "count", 60, 35, 47, 0.0, 60)
    success = ModelRecord(False, True, diagnostics=GOOD, predictive=(misfit,), fading=Fading(400.0))
    believed = ModelRecord(True, True, "the record lacks minutes")
    posterior = fitted({"success": success, "bench_minutes": believed}, label=HOSTILE)
    save_posterior(posterior, learned_folder())
    page.run()
    assert not page.exception
    said = text(page)
    assert "can be trusted with care" in said and "bench minutes use assumptions only" in said
    assert "The pages use the fit to this record" in said
    assert "60 of 60 is far outside the fit's 90 % range" in said
    assert HOSTILE not in said and ESCAPED in said
    assert "400 days" in said and "See **Assumptions**" in said


def test_a_failed_fit_and_a_rejected_one_say_what_failed(page, fitted):
    failed = ModelRecord(False, False, f"3 divergences {HOSTILE}", replace(GOOD, divergences=3))
    save_posterior(fitted({"success": failed}), learned_folder())
    save_posterior(fitted({"comeback": failed}), learned_folder() / "rejected-abc")
    page.run()
    said = text(page)
    assert "cannot be trusted\\: it failed for chance of repair" in said
    assert "was not used" in said and "Comebacks: 3 divergences" in said and "stronger assumptions" in said
    assert HOSTILE not in said


def test_a_rejected_first_fit_is_told_while_the_demo_stays_in_use(page, fitted):
    failed = ModelRecord(False, False, "3 divergences", replace(GOOD, divergences=3))
    save_posterior(fitted({"comeback": failed}), learned_folder() / "rejected-abc")
    page.run()
    assert "was not used" in text(page) and "invented demo shop: every fit to this record" in text(page)


def test_a_model_that_failed_alone_shows_its_diagnostics_beside_the_fit_in_use(page, fitted):
    found = replace(GOOD, rhat=1.019)
    refused = ModelRecord(True, True, f"R-hat 1.019 {HOSTILE}", found, refused=True)
    save_posterior(fitted({"bench_minutes": refused}), learned_folder())
    failed = ModelRecord(False, False, f"R-hat 1.019 {HOSTILE}", found)
    save_posterior(fitted({"bench_minutes": failed}), learned_folder() / "rejected-abc")
    page.run()
    assert not page.exception
    said = text(page)
    assert "it failed for bench minutes, so assumptions are used there" in said
    assert "Part of a fit" in said and "The pages use the fit to this record" in said
    assert "Diagnostics of the fit that failed" in [one.label for one in page.expander]
    assert HOSTILE not in said


def test_what_came_of_a_fit_names_models_that_failed():
    def drawn():
        from datetime import UTC, datetime
        from pathlib import Path

        from triage.app_pages.fitting.fit_learning import _what_came
        from triage.workflows.background.runner import LongWork
        from triage.workflows.shop.shop_files import ShopFiles

        out = Path("/nowhere/learned")
        found = {"jobs": 53, "as_of": "2026-10-01", "folder": str(out), "current": True}
        failures = {"bench_minutes": ["R-hat 1.019"]}
        result = {**found, "failures": failures}
        work = LongWork("fit", "1", datetime.now(UTC), "done", "", None, None, result, "")
        _what_came(work, ShopFiles(posterior=out), out)

    page = AppTest.from_function(drawn).run()
    assert not page.exception
    assert "is in use. It failed its checks for bench minutes" in page.warning[0].value


def test_the_button_learns_from_the_record_beside_it_with_other_numbers_after_a_failure(
    page, fitted, monkeypatch
):
    rows = pd.DataFrame({"job": ["a", "b"], "date": pd.Timestamp("2026-01-01"), "finding": "cell-worn"})
    past = ShopHistory(History(rows, date(2026, 2, 1)), "two jobs", False, {"ledger": "sqlite:///x"})
    asked = []
    monkeypatch.setattr(fit_learning, "past_jobs", lambda shop: past)
    monkeypatch.setattr(long_work_panel, "start", lambda kind, arguments: asked.append((kind, arguments)))
    failed = ModelRecord(False, False, "3 divergences", replace(GOOD, divergences=3))
    save_posterior(fitted({"comeback": failed}), learned_folder() / "rejected-abc")
    page.run()
    page.number_input(key="fit-half-life").set_value(365.0)
    page.button(key="long-fit-start").click().run()
    assert not page.exception
    ((kind, arguments),) = asked
    assert kind == "fit" and arguments["record"] == {"ledger": "sqlite:///x"}
    assert arguments["out"] == str(learned_folder()) and arguments["half_life"] == 365.0
    assert arguments["seed"] == 2


def test_one_goes_back_to_an_earlier_fit_even_from_a_broken_one(page, fitted):
    folder = learned_folder()
    first = save_posterior(fitted(seed=1), folder)
    thinner = fitted(seed=2)
    thinner = replace(thinner, draws={name: one.isel(draw=slice(20)) for name, one in thinner.draws.items()})
    second = save_posterior(thinner, folder)
    (folder / second.folder / "success.nc").write_bytes(b"")
    page.run()
    assert "cannot be used" in text(page)
    page.selectbox(key="fit-earlier").set_value(first.folder)
    page.run()
    page.button(key="fit-earlier-go").click().run()
    assert not page.exception
    assert next(one.name for one in versions(folder) if one.in_use) == first.folder
    assert "This fit can be trusted" in text(page)
    assert not list(shipped(DEMO_POSTERIOR).glob("rejected-*"))
