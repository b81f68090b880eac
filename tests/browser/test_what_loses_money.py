"""What loses money, in a browser: a row is picked, its jobs stand below, and the address keeps it."""

from __future__ import annotations

HEAD = "Which damage loses money?"


def test_a_row_that_is_picked_shows_its_jobs_and_can_be_bookmarked(visit, size):
    visit.page.goto(f"{visit.address}/what_loses_money")
    visit.idle(HEAD)
    visit.page.locator(".mark-symbol path").nth(9).wait_for(state="attached")  # every group has its point
    # The grid is a canvas: its third row, at the box that picks it.
    visit.page.get_by_test_id("stDataFrame").click(position={"x": 16, "y": 35 * 3 + 17})
    visit.page.wait_for_url("**loses-kind=**")
    visit.idle(HEAD)
    chosen = visit.page.get_by_label("Which damage?")
    said = visit.page.get_by_text("to zero:").first.inner_text()
    name = said.split(" lost ")[0]
    visit.full_shot(f"what-loses-money-{size}")
    visit.page.reload()
    visit.idle(HEAD)
    assert chosen.input_value().casefold() == name.casefold()
    assert visit.page.get_by_text("the worst first").count() == 1
    assert not visit.outside
