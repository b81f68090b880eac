"""The page of beliefs: where it stands, a belief stated and kept, proposals ticked, sets apart."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date
from types import SimpleNamespace

import pytest

from triage.app_pages.shared.draft import EMPTY
from triage.app_pages.shared.pages import PAGES
from triage.domain.catalogue import load_catalogue
from triage.elicitation.proposal import KindProposal, Proposal
from triage.elicitation.success_prior import success_prior_draws
from triage.posterior.manifest import ModelRecord, structure_digest
from triage.posterior.store import Posterior, load_posterior, save_posterior
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.saved_sets import named_sets
from triage.priors.success import KindBelief
from triage.reports.charts.assumption import SIDES
from triage.reports.json_output.comparison import comparison_object
from triage.review.forecasts.set_comparison import ComparedSet, Comparison
from triage.shipped import shipped
from triage.workflows.shop.own_sets import choose_set, chosen_set, keep_belief

HOSTILE = '<b>x</b> $y$ [z](http://w) """ ]] :smile: \x07'
LOOMS = """
[[family]]
slug = "warp"
name = "warp"
[[kind]]
slug = "heddle-bent"
name = "heddle bent"
family = "warp"
[[kind]]
slug = "reed-rusty"
name = "reed rusty"
family = "warp"
"""


pytestmark = pytest.mark.usefixtures("few_draws")


def opened(page, part="stand"):
    if "device-draft" not in page.session_state:
        page.session_state["device-draft"], page.session_state["device-id"] = EMPTY, ""
        page.session_state["device-job"], page.session_state["device-turn"] = None, 0
        page.run().switch_page(str(PAGES["assumptions"]))
    page.session_state["assumption-part"] = part
    page.run()
    assert not page.exception
    return page


def said(page):
    shown = (*page.markdown, *page.caption, *page.info, *page.warning, *page.success, *page.header)
    return "\n".join(item.value for item in shown)


@pytest.mark.slow
def test_where_assumption_and_record_disagree_comes_first(page):
    opened(page)
    assert "assumption and record disagree on" in page.header[0].value
    # 37 of 37 at severity 2 where 16 in 20 was assumed.
    assert "37 of 37 fixed" in said(
        page
    ) and "The record moves the chance up; your assumption moves it down" in said(page)
    assert "Kallioinen" in said(page)
    table = page.dataframe[0].value
    assert set(SIDES) < set(table) and "board connector crushed" in set(table["damage kind"])
    page.selectbox(key="assumption-which").set_value("every kind").run()
    assert len(page.dataframe[0].value) == 66
    page.button(key="assumption-restate-connector-crushed").click().run()
    assert not page.exception and page.selectbox(key="assumption-kind").value == "connector-crushed"


@pytest.mark.slow
def test_an_assumption_is_asked_first_then_shown_and_saved_with_its_reason(page, tmp_path):
    opened(page, "state")
    page.selectbox(key="assumption-kind").set_value("joint-cracked").run()
    assert "reflowing" not in said(page)  # what the set says could draw the answer towards itself
    assert not [box for box in page.number_input if "fewer" in box.key]  # one thing at a time
    for name, value in (("about", 15.0), ("fewer", 13.0), ("more", 19.0)):
        page.session_state[f"assumption-{name}-joint-cracked"] = value
    page.run()
    assert "No assumption has all your numbers" in page.warning[0].value
    page.number_input(key="assumption-fewer-joint-cracked").set_value(16.0).run()
    assert "is not below the expected 15" in page.error[0].value
    page.number_input(key="assumption-fewer-joint-cracked").set_value(11.0)
    page.number_input(key="assumption-more-joint-cracked").set_value(None).run()
    words = said(page)
    assert "about 15 in 20, worth 18 jobs" in words and "about 10 in 20" in words
    assert "In money, for an example" in words and "the assumption has" in words
    page.text_input(key="assumption-keep-name-demo").set_value("mine")
    page.button(key="assumption-keep-go").click().run()
    assert "needs a reason" in page.error[0].value and not (tmp_path / "beliefs").exists()
    page.text_area(key="assumption-reason-joint-cracked").set_value(HOSTILE)
    page.text_input(key="assumption-keep-name-demo").set_value("../mine")
    page.button(key="assumption-keep-go").click().run()
    assert "is not a possible name of a set" in page.error[0].value
    page.text_input(key="assumption-keep-name-demo").set_value("mine")
    page.button(key="assumption-keep-go").click().run()
    assert not page.exception and not page.error and "mine" in page.success[0].value
    held = load_priors(tmp_path / "beliefs" / "mine", load_catalogue()).success.belief("joint-cracked")
    assert (held.chance, held.jobs, held.reason) == (0.7372, 17.8, " ".join(HOSTILE.split()))
    assert "<b>x</b>" not in said(page)
    opened(page, "sets")
    assert page.dataframe[0].value["set"].tolist() == ["demo (in use)", "mine"]
    assert "0.7372" in page.dataframe[1].value["to"].tolist()
    page.session_state["assumption-reasons"] = True
    page.run().selectbox(key="assumption-reasons-set").set_value("mine").run()
    reasons = next(item.value for item in page.markdown if "chip joint cracked" in item.value)
    assert reasons.count("\n") == 0 and "\\<b\\>x" in reasons and "<b>" not in reasons.replace("\\<", "")
    page.button(key="assumption-use-mine").click().run()
    assert not page.exception and chosen_set(tmp_path / "beliefs").name == "mine"


@pytest.mark.slow
def test_the_next_fit_starts_from_the_set_that_is_chosen(page, tmp_path):
    belief = KindBelief("torch-dead", 0.8, 5, "seen")
    keep_belief(belief, tmp_path / "beliefs" / "mine", shipped("models/priors/demo"), load_catalogue())
    choose_set("mine", tmp_path / "beliefs")
    opened(page)
    assert "started from another set of assumptions" in said(page)
    assert "Assumptions that you did not state yourself are the demo's" in said(page)
    opened(page, "sets")
    assert page.dataframe[0].value["set"].tolist() == ["mine (in use)"]
    (tmp_path / "beliefs" / "mine" / "success.toml").write_text("[[kind]]\nslug = 3\n")
    page.run()
    assert "cannot be used" in page.error[0].value
    page.button(key="assumption-go-back").click().run()
    assert not page.exception and page.dataframe[0].value["set"].tolist() == ["demo (in use)"]
    assert "The set mine cannot be read" in page.error[0].value


@pytest.mark.slow
def test_of_a_proposal_only_the_ticked_kinds_are_kept(page, tmp_path):
    opened(page, "propose")
    assert "**None** of today's record would remain" in said(page)
    assert not any(box.value for box in page.checkbox)
    page.text_input(key="assumption-accept-name-demo").set_value("tuned")
    page.button(key="assumption-accept-go").click().run()
    assert "nothing is accepted" in page.error[0].value and not named_sets(tmp_path / "beliefs")
    page.checkbox(key="assumption-tick-2026-08-31-torch-dead").check()
    page.button(key="assumption-accept-go").click().run()
    assert not page.exception and not page.error
    kept, demo = (
        load_priors(folder, load_catalogue())
        for folder in (tmp_path / "beliefs" / "tuned", shipped("models/priors/demo"))
    )
    assert len(kept.tuned.jobs) == 2600
    changed = {one for one in kept.success.beliefs if kept.success.belief(one) != demo.success.belief(one)}
    assert changed == {"torch-dead"}


def finished(result):
    """A panel whose newest work came to this, and what it was asked."""
    asked = []

    def panel(kind, arguments, start_label, explain):
        asked.append((kind, arguments))
        return SimpleNamespace(result=result)

    return panel, asked


def test_sets_compared_and_jobs_fitted_up_to_a_day_show_what_came_of_it(page, monkeypatch, tmp_path):
    belief = KindBelief("torch-dead", 0.8, 5, "seen")
    keep_belief(belief, tmp_path / "beliefs" / "mine", shipped("models/priors/demo"), load_catalogue())
    rows = (
        ComparedSet("demo (in use)", 0.1, 0.4, 0.64, 4, 0),
        ComparedSet("mine", 0.1, 0.4, 0.66, 4, 1, -0.02, -0.03, -0.01),
    )
    panel, asked = finished(comparison_object(Comparison(date(2026, 1, 2), 650, 900, rows)))
    monkeypatch.setattr("triage.app_pages.assumptions.assumption_sets.long_work_panel", panel)
    opened(page, "sets")
    assert "forecasts worse than the first" in said(page) and "1 of its 4 fits failed" in said(page)
    assert "taken in from 2026\\-01\\-02 on" in said(page)
    ((kind, given),) = asked
    assert kind == "compare" and list(given["sets"]) == ["demo (in use)", "mine"] and given["record"]
    proposed = KindProposal("torch-dead", "camera", 0.9, 9, 0.9, 6, True, 13, 11, 0.7, 1.5, 3, 203)
    priors = load_priors(shipped("models/priors/demo"), load_catalogue())
    proposal = Proposal(priors.digest, "2025-01-01", "1,100 past jobs", (proposed,), ("f" * 64,))
    panel, asked = finished(asdict(proposal))
    monkeypatch.setattr("triage.app_pages.assumptions.assumption_proposals.long_work_panel", panel)
    page.session_state["assumption-from"] = "day"
    opened(page, "propose")
    assert "remain for the fit" in said(page) and "of today's record would remain" in said(page)
    assert [box.key for box in page.checkbox] == ["assumption-tick-2025-01-01-torch-dead"]
    assert asked[0][0] == "propose" and asked[0][1]["until"] < "2026"


def test_a_shop_with_a_catalogue_of_looms_and_no_assumptions_or_past(page, monkeypatch, tmp_path):
    (tmp_path / "looms.toml").write_text(LOOMS)
    known = load_catalogue(tmp_path / "looms.toml")
    demo = load_posterior(shipped("models/posteriors/demo"), load_catalogue())
    nothing = replace(
        demo.manifest, as_of="", jobs=0, rows=0, data_hash="", prior_hash=PriorSet().digest, attempts={},
        methods={}, structure=structure_digest(known), kinds=tuple(known.kinds), label="",
        models={"success": ModelRecord(True, True, "there is no record")},
    )  # fmt: skip
    draws = {"success": success_prior_draws(known, PriorSet(), 200)}
    save_posterior(Posterior(draws, nothing), tmp_path / "draws")
    monkeypatch.setenv("TRIAGE_SHOP_CATALOGUE", str(tmp_path / "looms.toml"))
    monkeypatch.setenv("TRIAGE_SHOP_POSTERIOR", str(tmp_path / "draws"))
    opened(page)
    assert "No job has been fitted yet" in said(page)
    assert page.dataframe[0].value["damage kind"].tolist() == ["heddle bent", "reed rusty"]
    opened(page, "propose")
    assert "There are no past jobs yet" in page.info[0].value
    opened(page, "state")
    page.selectbox(key="assumption-kind").set_value("reed-rusty").run()
    page.number_input(key="assumption-about-reed-rusty").set_value(12.0).run()
    assert not page.exception and "There is no amount for" in said(page)
    page.text_area(key="assumption-reason-reed-rusty").set_value("salt air")
    name = next(item for item in page.text_input if item.key.startswith("assumption-keep-name"))
    name.set_value("looms")
    page.button(key="assumption-keep-go").click().run()
    assert not page.exception and not page.error
    assert load_priors(tmp_path / "beliefs" / "looms", known).success.beliefs.keys() == {"reed-rusty"}


def test_draws_that_are_not_there_are_said(page, monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_SHOP_POSTERIOR", str(tmp_path / "none"))
    opened(page)
    assert "there is no stored posterior here" in page.error[0].value.replace("\\", "")
