"""Every page over a record, settings, beliefs and chances whose every free text is mark-up.

It stands there as it was typed. The lot's rows (`test_lot`), the back-test and drift (`test_track_record`)
and the figures of a fit (`test_model_check_page`) have their own tests.
"""

from __future__ import annotations

import re
import shutil

import pytest

from tests.app_pages.hostile_record import HOSTILE, LABEL, MARKUP, TOML, TYPED, hostile_jobs
from tests.app_pages.read_as_markup import read_as_markup
from tests.tiers import one_in
from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.literal import literal
from triage.ledger.drafts import StoredDraft, save_draft
from triage.shipped import shipped
from triage.workflows.shop.shop import DEMO_PRIORS, DEMO_SETTINGS

FOLDER = "<b>x<|b> $y$ :red[z] :smile: `k` www.w"  # a folder's name has no slash
# Of a job in work, one that was sold, one that was left: how often its words stand in each part at least.
PARTS = {
    "now": (4, 1, 2), "came-in": (1, 1, 1), "work": (5, 1, 1), "parts": (6, 1, 1), "check": (2, 1, 1),
    "money": (7, 3, 1), "end": (1, 3, 1), "history": (24, 13, 4),
}  # fmt: skip


def literally(page, least=1):
    """Nothing is mark-up, and the typed words stand there so many times at least."""
    said = read_as_markup(page)
    for sign in MARKUP:
        assert sign not in said, f"{sign}: {[line for line in said.splitlines() if sign in line][:3]}"
    assert said.count(literal(HOSTILE)) >= least
    return said


def test_a_device_and_its_quote(opened, keep):
    id = keep(Draft(TOML, walk_in=True))
    literally(opened("device", device=id))
    literally(opened("quote", device=id))


def test_a_quote_for_a_job(opened, record):
    job = hostile_jobs(record)[0]
    save_draft(record, "a" * 22, StoredDraft(TOML, None, True, "EUR", job))
    said = literally(opened("quote", device="a" * 22))
    assert f"Job {literal(LABEL + '1')}" in said


@pytest.mark.parametrize(("which", "count"), [("open", 2), ("ended", 1), ("declined", 1)])
def test_the_list_of_jobs(opened, record, which, count):
    hostile_jobs(record)
    said = literally(opened("jobs", {"jobs-which": which}), count)
    assert said.count(literal(LABEL.strip())) >= 1


@pytest.mark.parametrize("part", one_in(4, zip(PARTS, strict=True)))
def test_a_job_in_each_of_its_parts(opened, record, part):
    for job, least in zip(hostile_jobs(record), PARTS[part], strict=True):
        literally(opened("job", {"job-part": part}, job=str(job)), least)


def test_the_shelf_and_the_prices(opened, record):
    hostile_jobs(record)
    page = opened("parts")
    literally(page, 0)
    assert HOSTILE in page.dataframe[0].value.to_numpy()  # a grid shows text as it is


@pytest.mark.parametrize("by", one_in(3, zip(["kind", "technician", "cause"], strict=True)))
def test_margin_by_damage(opened, record, by):
    hostile_jobs(record)
    said = literally(opened("margin_by_damage", {"margin-by": by}), 0)
    assert literal(LABEL.strip()) in said


def test_settings_and_where_the_files_lie(opened, record, monkeypatch, tmp_path):
    own = tmp_path / FOLDER / "settings.toml"
    own.parent.mkdir()
    text = shipped(DEMO_SETTINGS).read_text(encoding="utf-8")
    own.write_text("\n".join(line for line in text.splitlines() if not line.startswith("shop ")), "utf-8")
    own.write_text(f"shop = {TYPED}\n{own.read_text('utf-8')}", "utf-8")
    monkeypatch.setenv("TRIAGE_SHOP_SETTINGS", str(own))
    said = literally(opened("settings"), 0)
    assert literal(FOLDER) in said


@pytest.fixture
def own_beliefs(monkeypatch, tmp_path):
    """A set of the shop's own, its folder and its reasons mark-up; where it lies."""
    monkeypatch.setenv("TRIAGE_BELIEFS", str(tmp_path / "sets"))
    own = shutil.copytree(shipped(DEMO_PRIORS), tmp_path / "sets" / FOLDER)
    text = (own / "success.toml").read_text("utf-8")
    changed = re.sub(r'reason = ".*"', lambda _: f"reason = {TYPED}", text)
    (own / "success.toml").write_text(changed, "utf-8")
    return own


@pytest.mark.parametrize("part", one_in(3, zip(["stand", "state", "propose"], strict=True)))
def test_beliefs_that_are_in_use(opened, own_beliefs, monkeypatch, part):
    monkeypatch.setenv("TRIAGE_SHOP_PRIORS", str(own_beliefs))
    said = {"assumption-kind": "cell-worn", "assumption-about-cell-worn": 15.0} if part == "state" else {}
    literally(opened("assumptions", {"assumption-part": part, **said}), part == "state")


def test_sets_of_beliefs(opened, own_beliefs):
    chosen = {"assumption-part": "sets", "assumption-reasons": True, "assumption-reasons-set": FOLDER}
    said = literally(opened("assumptions", {**chosen, f"assumption-reasons-of-{FOLDER}": "every kind"}), 20)
    assert literal(str(own_beliefs)) in said
