"""A look inside on the job page: its depth and its reason; and its checks on the page of assumptions."""

from __future__ import annotations

from datetime import date

import pytest

from tests.app_pages.jobs.test_jobs import WRECK, job_of, job_page, keeper, page, part, press, widget  # noqa: F401
from triage.app_pages.shared.pages import PAGES
from triage.domain.job.records import CheckMade, Intake, LookedInside
from triage.workflows.jobs.intake import consider, decline, take
from triage.workflows.jobs.record_keeper import move
from triage.workflows.jobs.work import make_check

DAY = date(2026, 11, 20)


def test_a_look_is_saved_with_its_depth_and_reason(page, keeper, record):  # noqa: F811
    file = consider(keeper, Intake(DAY, WRECK.format(name="Grey"), battery_looked_at=True), "bought")
    file = take(keeper, file.id, file.version, DAY, 1000)
    move(keeper, file.id, file.version, "start", DAY)
    job_page(page, 1)
    part(page, "work")
    press(page, "look-go")
    assert job_of(record).looks[0].record == LookedInside()
    widget(page, "button_group", "look-depth").set_value("shields-off")
    widget(page, "button_group", "look-why").set_value(True)
    widget(page, "multiselect", "look-found").set_value(["joint-cracked"])
    press(page, "look-go")
    assert job_of(record).looks[1].record == LookedInside("joint-cracked", "shields-off", True)


@pytest.mark.usefixtures("few_draws")
def test_results_of_checks_stand_beside_their_assumption(page, keeper):  # noqa: F811
    file = consider(keeper, Intake(DAY, WRECK.format(name="Grey"), battery_looked_at=True), "bought")
    file = make_check(keeper, file.id, file.version, CheckMade("touch-and-screen-grid", True))
    decline(keeper, file.id, file.version, DAY)
    page.run().switch_page(str(PAGES["assumptions"]))
    page.session_state["assumption-checks"] = True
    page.run()
    assert not page.exception
    (table,) = [one.value for one in page.dataframe if "check" in one.value]
    assert table.iloc[0][["check", "record"]].tolist() == [
        "Test the display: torch on the panel, plain-colour screens, touch grid", "1 job, 0 verified",
    ]  # fmt: skip
    assert set(table["record"][1:]) == {"no job"}
