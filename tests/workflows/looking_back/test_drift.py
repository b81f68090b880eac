"""The watch over a record stands on a fit only where that fit passed its checks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from triage.ledger.history.history_csv import read_history
from triage.posterior.manifest import ModelRecord
from triage.shipped import shipped
from triage.workflows.looking_back.drift import drift_now
from triage.workflows.shop.shop import open_shop

FEW = 400  # rows of the invented record


def test_a_fit_that_failed_is_not_what_a_record_is_watched_against(tmp_path):
    path = tmp_path / "jobs.csv"
    lines = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(lines[: FEW + 1]), encoding="utf-8")
    shop = open_shop(today=date(2026, 11, 25))
    jobs = read_history(path, shop.catalogue)
    failed = shop.posterior.manifest.models | {"success": ModelRecord(False, False, "3 divergences")}
    told = replace(shop.posterior.manifest, models=failed)
    broken = replace(shop, posterior=replace(shop.posterior, manifest=told))
    assert "the fit" in drift_now(jobs, shop).watch.against
    against = drift_now(jobs, broken).watch.against
    assert against.startswith("assumptions") and "fit" not in against
