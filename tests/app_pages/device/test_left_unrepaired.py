"""What stays broken, damage counted once, and what would change the verdict, on the device page."""

from __future__ import annotations

import pytest

from triage.app_pages.shared.draft import Draft

# Invented: a dead display with its glass cracked, a cut sensor flex, and a message about a part.
STRANGER = """\
[device]
name = "stranger"
tier = "top"
battery = "sound"
working_price = 900.0

[ownership]
lock = "{lock}"
identity = "{identity}"
"""
KINDS = ("display-panel-dead", "display-glass-cracked", "sensor-flex-cut", "paired-part-message")


def draft(ask=40.0, lock="clear", identity="agrees", kinds=KINDS, walk_in=False):
    found = "".join(f'\n[[finding]]\nkind = "{kind}"\nseverity = 3\n' for kind in kinds)
    return Draft(STRANGER.format(lock=lock, identity=identity) + found, None if walk_in else ask, walk_in)


@pytest.fixture
def opened(page, keep):
    def opened(draft):
        page.query_params["device"] = keep(draft)
        page.run()
        assert not page.exception
        return page

    return opened


def said(page):
    kinds = ("markdown", "caption", "warning", "error", "info")
    return "\n".join(element.value for kind in kinds for element in page.get(kind)).replace("\\", "")


def test_the_plan_and_the_money_name_what_stays(opened):
    page = opened(draft())
    text = said(page)
    assert "Left unrepaired: front sensor flex cut (no repair is worth its cost, €" in text
    assert "left unrepaired: front sensor flex cut" in text  # beside the margin breakdown
    (money,) = [c for c in page.get("vega_lite_chart") if c.proto.alt.startswith("sale ")]
    assert "; left unrepaired −€" in money.proto.alt
    assert "Replace the display; transfer: earpiece" in text and "transfer: front sensor" not in text


def test_nothing_is_said_to_stay_where_all_is_repaired(opened):
    page = opened(draft(kinds=("antenna-flex-torn",)))
    assert "unrepaired" not in said(page).lower()


def test_the_form_and_the_answer_say_that_overlapping_damage_counts_once(opened):
    text = said(opened(draft()))
    line = (
        "Display glass cracked, picture and touch work is not counted apart: display panel dead or "
        "bleeding, severity 3 of 3, stands for both."
    )
    assert text.count(line) == 2


def test_a_margin_beside_no_price_names_the_price_it_is_for(opened):
    told = STRANGER.replace("900.0", "60.0") + '\n[[finding]]\nkind = "display-panel-dead"\n'
    page = opened(Draft(told.format(lock="clear", identity="agrees"), None, True))
    assert "Expected margin and risk of loss at €60.00" in said(page)
    assert {metric.label: metric.value for metric in page.metric}["Lowest quote"] == "no price"


@pytest.mark.parametrize(
    ("lock", "identity", "words"),
    [
        ("cannot-tell", "not-checked", "No activation lock and matching serial number and IMEI"),
        ("locked-to-owner", "agrees", "The activation lock removed by the seller"),
    ],
)
def test_settled_ownership_is_among_what_would_change_the_verdict(opened, lock, identity, words):
    page = opened(draft(lock=lock, identity=identity))
    page.session_state["device-turning"] = True
    page.run()
    assert not page.exception
    assert f"- {words}: the verdict would be buy at €" in said(page)
