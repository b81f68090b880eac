"""The plan on the device page: a path with branches, figures beside the acts, each caution once in full."""

from __future__ import annotations

import re

import pytest

from triage.app_pages.shared.cautions import caution_words
from triage.app_pages.shared.draft import DEMO
from triage.app_pages.shared.literal import literal
from triage.reports.wording.branch import condition_words, end_words
from triage.reports.wording.plan import upper
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.intake import described
from triage.workflows.shop.shop import open_shop


@pytest.fixture(scope="module")
def shop():
    return open_shop()


@pytest.fixture(scope="module")
def answer(shop):
    return assess(described(DEMO.toml, shop), shop, DEMO.ask)


def said(page):
    """All that stands on the page, unfolded, line breaks and hard spaces as blanks."""
    kinds = ("markdown", "caption", "warning")
    text = "\n".join(element.value for kind in kinds for element in page.get(kind))
    return text.replace("\N{NO-BREAK SPACE}", " ")


def cautions(answer):
    acts = list(answer.steps_now)
    for step in answer.steps_now:
        for branch in step.branches:
            acts += [*branch.steps, *branch.ending]
    return {c.slug: c for act in acts for c in act.cautions}.values()


def test_each_caution_stands_whole_once_and_with_its_place_afterwards(page, answer):
    page.run()
    text = said(page)
    for caution in cautions(answer):
        assert text.count(caution_words(caution)) == 1, caution.slug
    (first,) = [warning.value for warning in page.warning][:1]
    for caution in answer.first_cautions:
        rule = caution_words(caution, 1)
        assert re.search(re.escape(rule) + r" \(full text: \[step \d+\]\(#step-\d+\)\)", first)
    numbers = {int(number) for number in re.findall(r"\(#step-(\d+)\)", text)}
    anchors = {
        int(number) for html in page.get("html") for number in re.findall(r'id="step-(\d+)"', html.proto.body)
    }
    assert numbers <= anchors == set(range(1, len(answer.steps_now) + 1))


def test_what_must_be_said_is_named_at_each_act(page, answer):
    page.run()
    text = said(page)
    for caution in cautions(answer):
        if caution.always:
            acts = [step for step in answer.steps_now if caution in step.cautions]
            assert text.count(literal(caution.title)) >= len(acts), caution.slug


def test_every_branch_is_on_the_page_with_its_condition_and_its_end(page, answer, shop):
    page.run()
    text = said(page)
    told = 0
    for step in answer.steps_now:
        for branch in step.branches:
            told += 1
            end = end_words(branch, step, answer.route)
            assert f"**{literal(condition_words(branch, step, shop.catalogue))}:**" in text
            assert literal(upper(end) if branch.steps else end) in text
    assert told >= 3
    assert "Stop point" in text and "12 min" in text and "works 17 in 20" in text
