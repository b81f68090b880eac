"""A stale or mismatched posterior is named: belief only, other beliefs, a record that went on, age."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from triage.domain.job.records import Intake, Moved
from triage.errors import StalePosteriorError
from triage.ledger.opening import open_ledger
from triage.outcome_models.registry import MODELS
from triage.posterior.manifest import QuickUpdate
from triage.workflows.fitting.record_of_fit import check_forms
from triage.workflows.fitting.standing import posterior_standing
from triage.workflows.shop.shop import open_shop

DEMO = open_shop(today=date(2026, 9, 30))
AS_OF = date(2026, 8, 31)  # of the demo's stored draws
FORMS = {name: model.form for name, model in MODELS.items()}


@pytest.fixture
def shop():
    """The demo's draws as if a shop had fitted them itself, with the books as they are now."""
    fitted = replace(
        DEMO.posterior.manifest,
        catalogue_digest=DEMO.catalogue.digest,
        prior_hash=DEMO.priors.digest,
        as_of=AS_OF.isoformat(),
        forms=FORMS,
    )
    return replace(DEMO, demo=False, posterior=replace(DEMO.posterior, manifest=fitted))


def changed(shop, **manifest):
    return replace(shop.posterior, manifest=replace(shop.posterior.manifest, **manifest))


@pytest.fixture
def ledger(tmp_path):
    opened = open_ledger(tmp_path / "record.sqlite")
    yield opened
    opened.close()


def close_jobs(ledger, number, on):
    with ledger.writing("ada") as writing:
        for place in range(number):
            job = writing.open_job(f"{on}-{place}", "bought", "EUR", Intake(on - timedelta(3), ""))
            writing.append(job, Moved("take", "taken", on - timedelta(3)))
            writing.append(job, Moved("make-ready", "ready", on))
            writing.append(job, Moved("sell", "sold", on + timedelta(40)))


def test_nothing_is_said_of_a_posterior_that_fits(shop, ledger):
    close_jobs(ledger, 30, AS_OF)  # known to the fit, though sold after it
    standing = posterior_standing(shop.posterior, shop, ledger)
    assert (standing.words, standing.level) == ("", "fine")


def test_the_demo_is_called_invented():
    standing = posterior_standing(DEMO.posterior, DEMO)
    assert "Invented demo record" in standing.words and standing.level == "warning"


def test_assumptions_and_books_that_differ_are_named(shop):
    told = {name: replace(one, belief_only=True) for name, one in shop.posterior.manifest.models.items()}
    assert "Assumptions only" in posterior_standing(changed(shop, models=told), shop).words
    other = posterior_standing(changed(shop, prior_hash="other"), shop)
    assert "another set of assumptions" in other.words and other.level == "warning"
    worded = posterior_standing(changed(shop, catalogue_digest="other"), shop)
    assert worded.words == "", "new words do not touch the chances; another structure is refused"


def test_draws_of_an_older_form_of_a_model_are_named(shop):
    """Not as other beliefs, though a new belief comes with the new form."""
    older = posterior_standing(changed(shop, forms={**FORMS, "parts_cost": 1}, prior_hash="other"), shop)
    assert older.words == "Fitted by an older version of the program (parts cost). Run a new fit."
    assert older.level == "warning"
    assert FORMS["bench_minutes"] > 1, "a manifest that says nothing is of form 1"
    assert "bench minutes" in posterior_standing(changed(shop, forms={}), shop).words
    with pytest.raises(StalePosteriorError, match="older version .*parts cost"):
        check_forms(changed(shop, forms={**FORMS, "parts_cost": 1}).manifest)


def test_an_update_says_which_fit_it_comes_from(shop):
    update = QuickUpdate("draws-full", "2026-08-30", 4, 1, {}, {})
    standing = posterior_standing(changed(shop, update=update), shop)
    assert standing.level == "note"
    assert standing.words == (
        "A quick update of the full fit of 2026-08-30, with 4 new jobs and 1 changed one."
    )


def test_jobs_closed_since_are_counted_and_many_are_a_warning(shop, ledger):
    close_jobs(ledger, 3, AS_OF + timedelta(1))
    few = posterior_standing(shop.posterior, shop, ledger)
    assert few.words == "3 jobs were closed since 2026-08-31 and not yet in the fit."
    assert few.level == "note"
    # A fit on few jobs is behind sooner: 20 new ones are many.
    close_jobs(ledger, 17, AS_OF + timedelta(2))
    assert posterior_standing(changed(shop, jobs=100), shop, ledger).level == "warning"
    assert posterior_standing(changed(shop, jobs=2600), shop, ledger).level == "note"


@pytest.mark.parametrize(("days", "level"), [(90, "fine"), (91, "warning")])
def test_a_record_that_ended_long_ago_is_told_by_its_age(shop, days, level):
    standing = posterior_standing(shop.posterior, shop, None, AS_OF + timedelta(days))
    assert standing.level == level
    assert ("91 days ago, on 2026-08-31" in standing.words) == (level == "warning")
