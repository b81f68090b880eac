"""One device, one job: pressed twice, in two tabs, changed beside its answer."""

from __future__ import annotations

import re

import pytest

from tests.browser.by_hand import JOB, figures_of, figures_on, said, type_in, unfold, verdict, who_is_here
from tests.browser.conftest import Visit
from triage.domain.documents import parse_toml
from triage.domain.units.unit_file import unit_from
from triage.errors import UnitFileError
from triage.workflows.answers.assess import assess
from triage.workflows.shop.shop import open_shop

PHONE = """\
[device]
name = "{name}"
tier = "top"
battery = "sound"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "back-glass-cracked"
"""
JOBS = "Which jobs are there?"


@pytest.fixture
def size():
    return "desk"


def described(visit, tmp_path, name):
    """A device from a file, answered; its address."""
    file = tmp_path / "unit.toml"
    file.write_text(PHONE.format(name=name))
    visit.open()
    unfold(visit)
    visit.page.get_by_role("tab", name="Load a file").click()
    visit.settled()
    visit.page.locator("input[type=file]").set_input_files(file)
    visit.page.get_by_role("button", name="Load device and get the verdict").click()
    visit.page.get_by_text(re.compile(f"{name}, price class top")).first.wait_for(timeout=30_000)
    visit.idle()
    who_is_here(visit, "Ada")
    return visit.page.url


def times_listed(visit, name):
    """How many jobs of this name the list of jobs shows."""
    visit.page.goto(visit.address + "/jobs")
    visit.page.get_by_role("heading", level=1).first.wait_for()
    visit.page.wait_for_timeout(1500)
    return said(visit.page.locator("[data-testid=stMain]")).count(name)


def test_a_double_click_takes_it_once(visit, tmp_path):
    described(visit, tmp_path, "twice pressed")
    visit.page.get_by_role("button", name="Buy it", exact=True).dblclick()
    visit.idle(JOB)
    visit.page.get_by_text("twice pressed").first.wait_for(timeout=30_000)
    first = visit.page.url
    assert times_listed(visit, "twice pressed") == 1, first


def test_two_tabs_take_it_once_and_the_second_is_led_to_the_job(visit, browser, server, tmp_path):
    address = described(visit, tmp_path, "in two tabs")
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    other = Visit(context, server)
    other.page.goto(address)
    other.idle()
    who_is_here(other, "Ben")
    visit.page.get_by_role("button", name="Buy it", exact=True).click()
    visit.idle(JOB)
    other.page.get_by_role("button", name="Buy it", exact=True).click()
    other.idle(JOB)
    other.page.get_by_text("This device is already a job").wait_for(timeout=30_000)
    assert other.page.url.split("job=")[1] == visit.page.url.split("job=")[1]
    assert times_listed(visit, "in two tabs") == 1
    context.close()


def test_an_answer_never_stands_beside_another_device(visit, tmp_path):
    described(visit, tmp_path, "changed beside")
    assert verdict(visit.page) == "Buy"
    unfold(visit)
    visit.page.locator("[data-testid=stMain]").get_by_text("swollen, bent, pierced or leaking").click()
    visit.idle()
    type_in(visit, "Asking price (EUR)", "95")
    shop = open_shop()
    text = PHONE.format(name="changed beside").replace('"sound"', '"hazard"')
    unit = unit_from(parse_toml(text, "changed", UnitFileError), shop.catalogue, shop.prices)
    figures = figures_of(assess(unit, shop, 95.0))
    assert figures_on(visit.page, figures) == figures
