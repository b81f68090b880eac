"""A newcomer's first steps: there on an empty record of the invented shop, gone once something is written."""

from __future__ import annotations

from triage.domain.shop.shelf import ShelfPart
from triage.ledger.drafts import read_draft
from triage.workflows.jobs.shelf import shelve
from triage.workflows.shop.shop import open_shop


def keys(page):
    return {button.key for button in page.button}


def test_an_owner_s_handset_is_one_press_away_until_something_is_written(page, record):
    page.run()
    assert {"first-steps-rain-handset", "first-steps-dropped-console"} <= keys(page)
    page.button("first-steps-rain-handset").click().run()
    kept = read_draft(record, page.query_params["device"])
    assert kept.walk_in and kept.ask is None and "handset out of the rain" in page.expander[0].label
    assert "Lowest quote" in {metric.label for metric in page.metric}
    part = next(iter(open_shop().catalogue.parts))
    shelve(record, "R", ShelfPart(part, 500, "EUR", None, "", "", "", True, False, ""))
    page.run()
    assert not page.exception and not any(key.startswith("first-steps") for key in keys(page))
