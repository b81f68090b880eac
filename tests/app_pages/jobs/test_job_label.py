"""The label that the job page gives to print: what its PDF says of a device with a bad cell."""

from __future__ import annotations

from datetime import date

from tests.reports.pdf_text import pdf_text
from triage.app_pages.jobs import job_came_in
from triage.app_pages.shared.pages import PAGES
from triage.domain.job.records import Intake
from triage.workflows.jobs.intake import consider, look_at_battery
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import open_shop

UNIT = (
    '[device]\nname = "Grey one"\ntier = "middle"\nbattery = "not-seen"\n\n[[finding]]\nkind = "port-dirty"\n'
)


def test_the_label_says_number_device_and_the_caution_of_its_cell(page, record, monkeypatch):
    printed = []
    set_label = job_came_in.job_label_pdf
    monkeypatch.setattr(
        job_came_in, "job_label_pdf", lambda label: printed.append(set_label(label)) or b"%PDF"
    )
    keeper = RecordKeeper(record, open_shop(), "Ben")
    file = consider(keeper, Intake(date(2026, 11, 2), UNIT, person="Nobody Here"), "bought")

    def label():
        page.run()
        page.switch_page(str(PAGES["job"]))
        page.query_params["job"] = str(file.id)
        page.run()
        page.get("button_group")[0].set_value("came-in").run()
        assert not page.exception
        return " ".join(pdf_text(printed[-1]).split())

    said = label()
    assert file.label in said and "Grey one" in said and "Nobody" not in said
    caution = keeper.catalogue.cautions["damaged-cell"]
    assert "Battery not inspected yet." in said and caution.title not in said
    look_at_battery(keeper, file.id, file.version, "cell-swollen")
    said = label()
    assert f"{caution.title}. {caution.lines[0]}" in said and "not looked at" not in said
