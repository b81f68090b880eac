"""The button that takes up a day's jobs: offered beside a full fit, and honest about a refusal."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from triage.app_pages.fitting import fit_learning, quick_learning
from triage.domain.history import History
from triage.errors import StalePosteriorError
from triage.posterior.manifest import QuickUpdate
from triage.posterior.store import save_posterior
from triage.workflows.fitting.jobs_since import JobsSince
from triage.workflows.fitting.quick_update import Update
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.shop import open_shop
from triage.workflows.shop.shop_history import ShopHistory

ROWS = pd.DataFrame({"job": ["a"], "date": pd.Timestamp("2026-09-01"), "finding": "cell-worn"})
NOW = History(ROWS, date(2026, 9, 1))
HOSTILE = "<b>x</b> $y$"


@pytest.fixture
def page(record, monkeypatch):
    past = ShopHistory(NOW, "one job", False, {"ledger": "sqlite:///x"})
    monkeypatch.setattr(fit_learning, "past_jobs", lambda shop: past)

    def drawn():
        from triage.app_pages.fitting.model_check import page

        page()

    return AppTest.from_function(drawn, default_timeout=60)


@pytest.fixture(scope="module")
def full():
    shop = open_shop()
    few = {name: draws.isel(draw=slice(30)) for name, draws in shop.posterior.draws.items()}
    return replace(shop.posterior, draws=few)


def came(posterior=None, why_not=()):
    none = History(ROWS[:0], date(2026, 8, 31))
    return Update(JobsSince(none, NOW, none, NOW, 1, 0), {}, posterior, why_not)


def text(page):
    return "\n".join(e.value for kind in (page.markdown, page.success, page.warning, page.info, page.error)
                     for e in kind)  # fmt: skip


@pytest.mark.slow
def test_it_is_not_offered_beside_a_fit_from_other_beliefs(page, full):
    save_posterior(replace(full, manifest=replace(full.manifest, prior_hash="others")), learned_folder())
    page.run()
    assert not page.exception and "quick-go" not in [button.key for button in page.button]


@pytest.mark.slow
def test_what_came_of_it_is_said_and_what_it_rests_on(page, full, monkeypatch):
    fitted = save_posterior(full, learned_folder())
    mark = QuickUpdate(fitted.folder, "2026-08-31", 1, 0, {"success": 0.31}, {"success": 812.4})
    updated = replace(full, manifest=replace(full.manifest, update=mark, as_of="2026-09-01"))
    answers = []

    def update_folder(out, record, catalogue, priors):
        assert (out, record) == (learned_folder(), NOW)
        found = answers.pop(0)
        if isinstance(found, Exception):
            raise found
        if found.posterior is not None:
            save_posterior(found.posterior, out)
        return found

    monkeypatch.setattr(quick_learning, "update_folder", update_folder)
    monkeypatch.setattr(quick_learning, "check_beliefs", lambda fitted, priors: None)
    monkeypatch.setattr(quick_learning, "older_forms", lambda fitted: [])
    page.run()
    for answer, said in (
        (came(why_not=(f"technician '{HOSTILE}' is new to the models",)), "Nothing was changed. technician"),
        (came(), "There are no new jobs"),
        (StalePosteriorError(f"corrected {HOSTILE}"), "Nothing was changed.\n\n"),
        (came(updated), "Added 1 new job and 0 changed ones since the full fit of 2026-08-31"),
    ):
        answers.append(answer)
        page.button(key="quick-go").click().run()
        assert not page.exception
        assert said in text(page).replace("\\", "") and HOSTILE not in text(page)
    assert "The fit in use is a quick update of the full fit of 2026-08-31" in text(page)
    table = next(one.value for one in page.table if "effective sample size (draws)" in one.value)
    assert table.loc["chance of repair"].tolist() == ["0.31", "812"]
