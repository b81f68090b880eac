"""Which past jobs the office pages speak of."""

from __future__ import annotations

from dataclasses import replace

import pytest

from triage.shipped import shipped
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs
from triage.workflows.shop.shop import open_shop
from triage.workflows.shop.shop_history import shop_history

HEAD, *LINES = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()


@pytest.fixture(scope="module")
def shop():
    return open_shop()


def test_the_demo_speaks_of_its_invented_jobs_until_the_record_holds_one(shop, ledger):
    demo = shop_history(shop, ledger)
    assert demo.invented and "Invented" in demo.words and demo.history.jobs.index.size > 2000
    text = "\n".join([HEAD, *LINES[:40]]) + "\n"
    past = read_past_jobs(text.encode(), "jobs.csv", shop.catalogue, shop.settings.currency)
    import_past_jobs(past, ledger, "ada")
    own = shop_history(shop, ledger, "sqlite:///x")
    assert not own.invented and own.arguments == {"ledger": "sqlite:///x"}
    assert f"{len(own.history.jobs)} closed jobs" in own.words


def test_a_shop_with_its_own_draws_and_no_record_has_no_past_jobs(shop, ledger):
    own = replace(shop, demo=False)
    assert shop_history(own, ledger) is None
    assert shop_history(own, None) is None
