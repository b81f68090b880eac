"""The page of margin by damage: the demo, a record with jobs and declined devices, one without money."""

from __future__ import annotations

from datetime import date

import pytest

from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import Intake
from triage.reports.wording.review import ONE
from triage.shipped import shipped
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs
from triage.workflows.jobs.intake import consider, decline, later_fate
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import open_shop

DEMO = "\n".join(shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()[:61])
BARE = """\
job,date,finding,outcome
<b>x</b> $y$ :red[z],2025-01-02,port-dirty,fixed
<b>x</b> $y$ :red[z],2025-01-02,cell-worn,fixed
v2,2025-02-03,port-dirty,not-fixed
"""
DEVICE = '[device]\nname = "{name}"\ntier = "middle"\nbattery = "sound"\n\n[[finding]]\nkind = "port-dirty"\n'
HOSTILE = "<script>alert(1)</script> $x$ *bold* :red[a] :smile:"


def opened(page):
    page.switch_page(str(PAGES["margin_by_damage"])).run()
    assert not page.exception
    return page


def text(page):
    kinds = ("title", "header", "subheader", "markdown", "caption", "warning", "error", "info", "success")
    return "\n".join(element.value for kind in kinds for element in page.get(kind)).replace("\\", "")


def keep_jobs(record, csv):
    past = read_past_jobs(csv.encode(), "jobs.csv", load_catalogue(), "EUR")
    import_past_jobs(past, record, "Ada")


def left(record, name, fate=None):
    """A device that was asked 40 for and left, and what was heard of it."""
    keeper = RecordKeeper(record, open_shop(), "Ada")
    told = Intake(date(2026, 11, 2), DEVICE.format(name="x"), name=name, ask_minor=4000)
    file = consider(keeper, told, "bought")
    file = decline(keeper, file.id, file.version, date(2026, 11, 2))
    if fate is not None:
        file = later_fate(keeper, file.id, file.version, fate, f"heard of it {name}")
    return file


def choose(page, by):
    page.get("button_group")[0].set_value(by).run()
    assert not page.exception
    return page


def test_the_demo_says_what_loses_and_that_it_is_invented(page):
    opened(page)
    assert page.title[0].value == "Margin by damage"
    said = text(page)
    assert "Invented past jobs of the demo shop" in said and "You have not declined a device yet" in said
    table = page.dataframe[0].value
    totals = table["total, EUR"].tolist()
    assert totals == sorted(totals) and totals[0] < 0
    assert f"lost €{-totals[0]:,} over {table['jobs'][0]} jobs; the chance that its true mean is" in said
    assert table["note"].str.startswith("few jobs (").any()
    assert page.selectbox(key="margin-kind").value in load_catalogue().kinds
    assert "Sold €" in said and ", less " in said  # its worst job, line by line


@pytest.mark.slow
def test_a_record_takes_the_demo_s_place_and_knows_what_was_left(page, record):
    keep_jobs(record, DEMO)
    left(record, "never heard of again")
    left(record, HOSTILE, 3500)
    file = left(record, "dead", -2000)
    opened(page)
    said = text(page)
    assert "The shop's record: " in said and "Invented past jobs" not in said
    assert "You declined 3 devices; what became of 2 is known." in said
    assert "If accepted, 1 would have earned €35.00 and 1 would have lost €20.00." in said
    links = [link.proto for link in page.get("page_link")]
    assert any("**" in link.label and "lost €" in link.label for link in links)
    assert any(literal(file.label) in link.label and "would have lost" in link.label for link in links)
    shown = "\n".join(element.value for element in page.get("caption"))
    assert HOSTILE not in shown and literal(HOSTILE) in shown

    page.selectbox(key="margin-kind").set_value("back-glass-cracked").run()
    assert "Back glass cracked " in text(page) and "lowest margin first." in text(page)
    choose(page, "technician")
    said = text(page)
    assert "listed alphabetically and not ranked" in said and "by label." in said
    table = page.dataframe[0].value
    assert table["technician"].tolist() == sorted(table["technician"])
    assert not {"total, EUR", "chance that the mean is below 0"} & set(table.columns)


def test_a_record_without_money_says_what_it_lacks_and_counts(page, record):
    keep_jobs(record, BARE)
    opened(page)
    said = text(page)
    assert "No job has complete costs" in said
    assert "The record lacks route, sold, minutes and parts_cost" in said
    table = page.dataframe[0].value
    assert table.iloc[0].tolist() == ["charge port full of lint", 2, 2, 1]
    labels = "\n".join(link.proto.label for link in page.get("page_link"))
    assert "costs incomplete" in labels
    assert "<b>" not in labels and literal("<b>x</b> $y$ :red[z]") in labels
    for by in ("tier", "technician", "cause", "route"):
        choose(page, by)
        assert f"The record gives no {ONE[by]} for any job." in text(page) and not page.dataframe


def test_what_became_of_a_left_device_is_written_on_its_job(page, record):
    file = left(record, "Grey one")
    page.session_state["bench-hand"] = "Ada"
    page.switch_page(str(PAGES["job"]))
    page.query_params["job"] = str(file.id)
    page.run()
    assert "Result elsewhere" in text(page)

    def press(**typed):
        for kind, value in typed.items():
            (field,) = (w for w in page.get(kind) if w.key.endswith(("-fate-margin", "-fate-source")))
            field.set_value(value)
        (button,) = (w for w in page.get("button") if w.key.endswith("-fate-go"))
        button.click().run()
        assert not page.exception

    press(text_input="sold at the market")
    assert "Enter the margin" in text(page)
    press(text_input="", number_input=-20.0)
    assert "enter the source of this result" in text(page)
    press(text_input="sold at the market")
    with record.reading() as reading:
        (kept,) = reading.job(file.id).later_fates
    told = kept.record
    assert (told.margin_minor, told.source, kept.by) == (-2000, "sold at the market", "Ada")
    assert "sold at the market" in text(page)
