"""A stranger's spreadsheet brought in through the browser, from the file to the record."""

from __future__ import annotations

import re

import pytest

from tests.browser.by_hand import choose, pick_typed, press, said, who_is_here

TITLE = "Past jobs"
MESSY = """\
Ticket;Booked in;Problem;Result;Tech;Paid;Sold for;Notes
{n}1;03.01.2026 14:20;cracked screen;Repaired;Al;40,50;1.240,00;
{n}2;13.02.2026;gremlins {n};BER;Bo;12,00;0;=1+1
{n}3;14.02.2026;bent frame;perhaps;Bo;12,00;30;
{n}4;15.02.2026;battery swolen;yes;Bo;12,00;60;
"""


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_messy_file_is_matched_checked_and_brought_in(visit, size, tmp_path):
    file = tmp_path / "our jobs.csv"
    file.write_bytes(MESSY.format(n=f"{size}-").encode("cp1252"))
    page = visit.page
    page.goto(f"{visit.address}/past_jobs")
    visit.idle(TITLE)
    visit.shot(f"past-jobs-empty-{size}")
    page.locator("input[type=file]").set_input_files(file)
    page.get_by_text("Jobs ready").wait_for()
    visit.idle(TITLE)
    main = page.locator("[data-testid=stMain]")
    assert "Jobs ready: 2 (rows: 2). Rows with errors: 2" in said(main)
    assert "03.01.2026 14:20 is read as 3 January 2026" in said(main)
    assert "1.240,00 is read as 1240.00" in said(main)
    pick_typed(visit, page.get_by_role("combobox", name=re.compile("gremlins")).first, "trace", TITLE)
    assert "Jobs ready: 3" in said(main)
    choose(visit, "All bought by the shop", TITLE)
    visit.full_shot(f"past-jobs-{size}")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Download rows to correct (1)").click()
    assert "perhaps" in waiting.value.path().read_text()
    who_is_here(visit, "Ada", TITLE)
    press(visit, "Import 3 jobs", TITLE)
    assert "3 jobs imported" in said(main)
    assert visit.complaints == [] and visit.outside == []
