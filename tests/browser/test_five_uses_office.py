"""Three of the five uses as an office walks them: margin by damage, assumptions, a lot chosen from.

What the page says is compared with the same worked out in Python.
"""

from __future__ import annotations

from dataclasses import replace

from tests.browser.by_hand import choose, demo_shop, downloaded, press, said, type_in
from tests.browser.test_every_page import MENU, go, unexcused
from triage.domain.units.lot_file import read_lot_text
from triage.elicitation.stated_belief import state_belief
from triage.elicitation.statement import Statement
from triage.lot_selection.lot_choice import Wanted
from triage.lot_selection.whole_lot import LotTerms
from triage.reports.wording.assumption import belief_words, change_words, proposal_words
from triage.reports.wording.lot import bid_list, choice_words, more_words, whole_words
from triage.reports.wording.review import group_words, job_head, lead_words
from triage.review.money.job_lines import job_lines
from triage.shipped import shipped
from triage.workflows.fitting.record_of_fit import record_of_fit
from triage.workflows.fitting.tuning import accept, propose_from
from triage.workflows.looking_back.losses import margin_by_damage
from triage.workflows.lots.choose import choose_from_lot, in_counts
from triage.workflows.lots.score import score_lot
from triage.workflows.lots.whole_bid import whole_bid
from triage.workflows.shop.shop import DEMO_PRIORS
from triage.workflows.shop.shop_history import shop_history

MARGIN, ASSUMED, LOT = "Margin by damage", "Assumptions", "Lot"
TRAY = """\
unit,tier,findings,ask,lock,identity
A1,upper,cell-worn/2,40,clear,agrees
A2,top,back-glass-cracked,57,clear,agrees
A3,middle,touch-fault/3,20,locked-to-another,agrees
A4,upper,back-glass-cracked;cell-worn/3,35,clear,agrees
<b>A5</b>,uper,cell-worn/2,20,clear,agrees
"""


def office(visit, size, title, asked):
    """Open a page of the office by its menu; the menu of a phone lies over the page until it is folded."""
    visit.open()
    go(visit, size, title, asked)
    if size == "phone":
        visit.page.get_by_test_id("stSidebarCollapseButton").get_by_role("button").click()
        visit.page.get_by_test_id("stExpandSidebarButton").wait_for()
    visit.idle(asked)


def sound(visit):
    """Nothing asked outside, nothing complained of, nothing too wide, nothing for axe to find."""
    from axe_playwright_python.sync_playwright import Axe

    visit.page.mouse.move(0, 0)  # what is chosen and under the pointer is tinted darker
    visit.settled()
    main = visit.page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth"), "wider than the screen"
    assert visit.outside == [] and visit.complaints == []
    found = Axe().run(visit.page, context=MENU).response["violations"]
    assert not [told for one in found for told in unexcused(one)]


def main_words(visit):
    """All that the page says."""
    return said(visit.page.locator("[data-testid=stMain]"))


def spaced(words):
    """Words as `said` spaces them."""
    return " ".join(words.split())


def test_a_row_of_margin_by_damage_shows_its_jobs_and_can_be_bookmarked(visit, size):
    page, shop = visit.page, demo_shop()
    office(visit, size, "Margin by damage", MARGIN)
    past = shop_history(shop, None)
    review = margin_by_damage(past, shop, None)
    assert lead_words(review) in main_words(visit)
    page.locator(".mark-symbol path").nth(9).wait_for(state="attached")  # every group has its point
    # The grid is a canvas: its third row, at the box that picks it.
    page.get_by_test_id("stDataFrame").click(position={"x": 16, "y": 35 * 3 + 17})
    page.wait_for_url("**margin-kind=**")
    visit.idle(MARGIN)
    third = review.groups[2]
    worst = job_lines(third, past.history, shop.catalogue, shop.settings)[0]
    shown = main_words(visit)
    assert spaced(group_words(third, review)) in shown
    assert f"{worst.label} {job_head(worst, review.currency)}" in shown
    visit.full_shot(f"margin-by-damage-{size}")
    page.reload()
    visit.idle(MARGIN)
    assert page.get_by_label("Which damage kind?").input_value() == third.name
    assert spaced(group_words(third, review)) in main_words(visit)
    sound(visit)


def test_assumptions_are_stated_proposed_reviewed_and_compared(visit, size, tmp_path):
    page, shop = visit.page, demo_shop()
    office(visit, size, "Assumptions", ASSUMED)
    page.get_by_role("button", name="Restate this assumption").nth(1).click()
    visit.idle(ASSUMED)
    named = page.get_by_label("Damage kind").input_value()
    kind = next(slug for slug, kind in shop.catalogue.kinds.items() if named.startswith(f"{kind.name} ("))
    type_in(visit, "Of the 20, I would fix about", "18", ASSUMED)
    type_in(visit, "I would be surprised by fewer than", "15", ASSUMED)
    stated = state_belief(kind, Statement(18.0, 20, 15.0, None), shop.catalogue, shop.priors)
    assert f"You assume {belief_words(stated.belief)}." in main_words(visit)
    assert f"The set assumes now: {belief_words(stated.before)}" in main_words(visit)
    page.get_by_label("Reason").fill("We crushed some ourselves; a new one sits well.")
    page.get_by_label("Name of the set").fill(f"mine {size}")
    press(visit, "Save assumption", ASSUMED)
    page.get_by_text(f"Saved in the set mine {size}").wait_for()
    sound(visit)
    visit.full_shot(f"assumption-saved-{size}")

    # Proposed from the past jobs: nothing changes but what is ticked.
    choose(visit, "Propose from past jobs", ASSUMED)
    past = shop_history(shop, None)
    record = record_of_fit(shop.posterior, past.arguments, shop.catalogue, past.history)
    proposal = propose_from(shop.posterior, record, shop.catalogue, shop.priors)
    first = proposal.kinds[0]
    ticks = page.locator("[class*=st-key-assumption-tick]")
    assert len(proposal.kinds) == ticks.count() > 1
    for tick, item in zip(ticks.all(), proposal.kinds, strict=True):
        assert spaced(f"{shop.catalogue.kinds[item.kind].name}: {proposal_words(item)}.") in said(tick)
    visit.full_shot(f"assumptions-propose-{size}")
    page.get_by_label("Name of the set").fill(f"from the past {size}")
    press(visit, "Save ticked proposals", ASSUMED)
    page.get_by_text("nothing is accepted").wait_for()
    ticks.first.locator("label").click()
    press(visit, "Save ticked proposals", ASSUMED)
    page.get_by_text(f"Saved in the set from the past {size}").wait_for()
    kept = accept(proposal, [first.kind], tmp_path / "set", shipped(DEMO_PRIORS), shop.catalogue)
    assert all(spaced(change_words(change)) in main_words(visit) for change in kept.changes)
    assert len(kept.changes) > 1 and "A job counts once" in main_words(visit)
    sound(visit)

    # Saved, and compared by a back-test that goes on by itself until it is stopped.
    choose(visit, "Saved sets", ASSUMED)
    page.get_by_text("Differences between two sets").wait_for()
    page.get_by_text(f"from the past {size} cannot be compared yet").wait_for()
    sound(visit)
    visit.full_shot(f"assumptions-saved-sets-{size}")
    # While it runs the page looks at it twice a second, and is never quiet for long.
    page.get_by_role("button", name="Compare sets on later jobs").click()
    page.get_by_text("set 1 of 2").wait_for(timeout=120_000)
    page.reload()
    visit.page.get_by_text("set 1 of 2").wait_for(timeout=120_000)
    page.get_by_role("button", name="Stop").click()
    page.get_by_text("The last run was stopped").wait_for(timeout=60_000)
    assert visit.outside == [] and visit.complaints == []


def test_a_lot_is_scored_chosen_from_and_bid_for(visit, size, tmp_path):
    page, shop = visit.page, demo_shop()
    tray = tmp_path / f"{size} *7*.csv"
    tray.write_text(TRAY)
    office(visit, size, "Lot", LOT)
    if page.get_by_text(
        "Assess another lot"
    ).count():  # one was scored before: bringing another is folded away
        page.get_by_text("Assess another lot").click()
    visit.settled()
    page.locator("input[type=file]").set_input_files(tray)
    page.get_by_test_id("stFileChipName").wait_for()
    visit.idle(LOT)
    page.get_by_role("button", name="Assess this lot").click()
    page.get_by_text(f"{tray.name}: 4 devices assessed, 1 row unreadable").wait_for(timeout=60_000)
    visit.idle(LOT)
    type_in(visit, "Cash limit (EUR)", "90", LOT)
    type_in(visit, "Bench hours limit", "2", LOT)
    page.get_by_text("One more bench hour would add").wait_for()
    assert "lot-hours=2" in page.url and "lot-cash=90" in page.url

    lot = read_lot_text(TRAY, tray.name, shop.catalogue, shop.prices)
    choice = choose_from_lot(score_lot(lot, shop), shop.settings, Wanted(90.0, 2.0))
    choice = replace(choice, whole=in_counts(whole_bid(lot, shop, LotTerms()), LotTerms()))
    shown = main_words(visit)
    for words in (choice_words(choice), *more_words(choice), *whole_words(choice.whole, choice)):
        assert spaced(words) in shown
    assert 0 < len(choice.taken) < 4
    page.get_by_text("Unreadable rows").click()
    page.get_by_text("'uper' is not a known tier").wait_for()
    visit.settled()
    visit.full_shot(f"lot-{size}")
    content, name = downloaded(page, "Download the bid list")
    assert name == "bid-list.csv" and content.decode() == bid_list(choice)
    sound(visit)
