"""A person is forgotten on the job page and, when the time is over, on the settings page; by command too."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from typer.testing import CliRunner

from triage.app_pages.shared.pages import PAGES
from triage.cli.main import cli
from triage.domain.job.records import Intake
from triage.workflows.jobs.intake import consider, decline, look_at_battery
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.own_settings import keep_settings
from triage.workflows.shop.shop import open_shop

NAME = "Wilhelmina Quarrel"
PHONE = """\
[device]
name = "grey phone"
tier = "middle"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "port-dirty"
"""


@pytest.fixture
def job(record):
    """An owner's device that went again some days ago."""
    keeper = RecordKeeper(record, open_shop(), "Ben")
    went = date.today() - timedelta(days=40)
    file = consider(keeper, Intake(went, PHONE, person=NAME, contact="0-555-0177"), "walk-in")
    file = look_at_battery(keeper, file.id, file.version)
    return decline(keeper, file.id, file.version, went).id


def now(record, job):
    with record.reading() as reading:
        return reading.job(job)


def said(page):
    return " ".join(e.value for kind in ("markdown", "caption", "header") for e in page.get(kind))


def test_on_the_job_page(page, record, job):
    page.session_state["bench-hand"] = "Ada"
    page.session_state["job-part"] = "came-in"
    page.switch_page(str(PAGES["job"]))
    page.query_params["job"] = str(job)
    page.run()
    assert "Erase personal data" in [fold.label for fold in page.expander]
    page.session_state[f"job-{job}-0-forget-fold"] = True
    page.run()
    assert not page.exception and "local law" in said(page)
    page.button(key=f"job-{job}-0-forget-go").click().run()
    assert not page.exception
    assert now(record, job).intake.record.person == "" and len(now(record, job).forgotten) == 1
    assert "was erased on" in said(page)


def test_on_the_settings_page_when_the_time_is_over(page, record, job):
    keep_settings({"keep_people_days": 30})
    page.session_state["bench-hand"] = "Ada"
    page.switch_page(str(PAGES["settings"])).run()
    assert "Personal data to erase" in said(page) and "J\\-0001" in said(page)
    page.button(key="settings-people").click().run()
    assert not page.exception and now(record, job).intake.record.contact == ""
    assert "Personal data to erase" not in said(page)


def test_by_command(record, job):
    runner = CliRunner()
    refused = runner.invoke(cli, ["record", "forget"])
    assert refused.exit_code == 2
    keeper = RecordKeeper(record, open_shop(), "Ben")
    consider(keeper, Intake(date.today(), PHONE, person="Bo Marsh"), "walk-in")  # J-0002 is still here
    mixed = runner.invoke(cli, ["record", "forget", "J-0001", "J-0002", "--why", "on request", "--by", "Ada"])
    assert mixed.exit_code != 0 and "J-0002" in str(mixed.exception)
    assert now(record, job).intake.record.person == NAME, "nothing is half done"
    done = runner.invoke(cli, ["record", "forget", "J-0001", "--why", "on request", "--by", "Ada"])
    assert done.exit_code == 0, done.output
    assert "J-0001: personal data erased" in done.output and "older backups" in done.output
    assert now(record, job).intake.record.person == ""
