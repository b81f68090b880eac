"""The device page in a real browser: offline, within one phone screen, readable and tappable."""

from __future__ import annotations

import re

import pytest

from tests.browser.by_hand import described, unfold, verdict
from triage.shipped import shipped

PHONE_HEIGHT = 844


def test_a_newcomer_sees_an_answer_with_no_request_to_the_outside(visit, size):
    visit.open()
    visit.shot(f"device-{size}")
    visit.full_shot(f"device-{size}-whole")
    assert verdict(visit.page)
    assert visit.outside == []
    assert visit.complaints == []


@pytest.mark.parametrize("size", ["phone"])
def test_the_first_phone_screen_holds_verdict_price_stop_point_and_cautions(visit, size):
    visit.open()
    page = visit.page
    wanted = {
        "verdict": page.get_by_role(
            "heading", name=re.compile("Buy for parts|Buy|Quote|Check first|Decline")
        ),
        "highest price": page.locator("[data-testid=stMetric]").filter(has_text="Highest price"),
        "stop point": page.get_by_text("Stop point").first,
        "cautions": page.locator("[data-testid=stAlert]").first,
    }
    for what, element in wanted.items():
        box = element.bounding_box()
        assert box, what
        assert box["y"] >= 0 and box["y"] + box["height"] <= PHONE_HEIGHT, (what, box)
        assert box["x"] >= 0 and box["x"] + box["width"] <= 390, (what, box)


def test_nothing_is_wider_than_the_screen(visit, size):
    visit.open()
    main = visit.page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")


@pytest.mark.parametrize("size", ["desk"])
def test_a_price_just_typed_goes_along_with_a_file(visit, size):
    visit.open()
    page = visit.page
    unfold(visit)
    page.get_by_label("Asking price (EUR)").fill("85")
    page.get_by_label("Asking price (EUR)").press("Tab")
    visit.idle()
    page.get_by_role("tab", name="Load a file").click()
    visit.settled()
    page.locator("input[type=file]").set_input_files(shipped("synthetic_cases/devices/harbour-tablet.toml"))
    visit.idle()
    page.get_by_role("button", name="Load device and get the verdict").click()
    page.get_by_text("grey tablet").first.wait_for()
    assert "asking price €85.00" in described(page).inner_text()


@pytest.mark.parametrize("size", ["desk"])
def test_a_hostile_name_is_shown_as_it_was_typed(visit, size):
    typed = "<script>alert(1)</script> $x$ *bold* :red[a] :smile:"
    visit.open()
    page = visit.page
    unfold(visit)
    page.get_by_label("Name or tray label").fill(typed)
    page.get_by_label("Name or tray label").press("Tab")
    visit.idle()
    page.get_by_role("button", name="Get the verdict").click()
    page.wait_for_url("**/?device=*")
    visit.idle()
    shown = described(page).inner_text().replace("\u2060", "")
    assert typed in shown
    assert described(page).locator("script, .katex, em, strong, img").count() == 0


# Contrast of every text on the page by the formula of WCAG 2.2 (success criterion 1.4.3):
# (lighter + 0.05) / (darker + 0.05) of relative luminances. Returns what falls short of
# 4.5, or of 3 for large text (24 px, or 18.66 px bold).
FAINT_TEXT = """() => {
    const parse = text => (text.match(/[\\d.]+/g) || []).map(Number);
    const over = (top, under) => {
        const alpha = top.length > 3 ? top[3] : 1;
        return [0, 1, 2].map(i => top[i] * alpha + under[i] * (1 - alpha));
    };
    const luminance = rgb => {
        const linear = v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
        const [r, g, b] = rgb.map(v => linear(v / 255));
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ground = element => {
        const layers = [];
        for (let e = element; e; e = e.parentElement) {
            layers.push(parse(getComputedStyle(e).backgroundColor));
        }
        const white = [255, 255, 255];
        return layers.reverse().reduce((under, top) => top.length ? over(top, under) : under, white);
    };
    const faint = [];
    const main = document.querySelector('[data-testid=stMain]');
    const walker = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
    let seen = 0;
    while (walker.nextNode()) {
        const element = walker.currentNode.parentElement;
        const style = getComputedStyle(element);
        const disabled = element.closest('[disabled], [aria-disabled=true]');
        if (!walker.currentNode.textContent.trim() || !element.checkVisibility() || disabled) continue;
        if (element.closest('svg, [data-testid=stIconMaterial]')) continue;
        let alpha = 1;
        for (let e = element; e; e = e.parentElement) alpha *= Number(getComputedStyle(e).opacity);
        const under = ground(element);
        const colour = parse(style.color);
        const text = over([...colour.slice(0, 3), (colour[3] ?? 1) * alpha], under);
        const [a, b] = [luminance(text), luminance(under)].sort((x, y) => y - x);
        const size = parseFloat(style.fontSize), bold = Number(style.fontWeight) >= 700;
        const wanted = size >= 24 || (size >= 18.66 && bold) ? 3 : 4.5;
        const ratio = (a + 0.05) / (b + 0.05);
        seen += 1;
        const words = walker.currentNode.textContent.trim().slice(0, 40);
        if (ratio < wanted) faint.push(`${ratio.toFixed(2)}: ${words}`);
    }
    return [seen, faint];
}"""


def test_every_text_can_be_read_against_its_ground(visit, size):
    visit.open()
    unfold(visit)
    seen, faint = visit.page.evaluate(FAINT_TEXT)
    assert seen > 100
    assert faint == []
    visit.page.add_style_tag(content="[data-testid=stMain] { opacity: 0.5 }")
    assert len(visit.page.evaluate(FAINT_TEXT)[1]) > 50  # the measure does see what is faint


def test_what_is_tapped_is_large_enough(visit, size):
    """WCAG 2.2, success criterion 2.5.8: 24 by 24 px at the least.

    Left out: the crosses inside a list of chosen things, which are Streamlit's own; the
    backspace key and the cross of the whole list do the same.
    """
    visit.open()
    unfold(visit)
    buttons = visit.page.locator("[data-testid=stMain] :is(button, summary):visible")
    assert buttons.count() > 10
    for button in buttons.all():
        if button.evaluate("e => e.closest('[data-testid=stMultiSelect]') !== null"):
            continue
        box = button.bounding_box()
        assert box["width"] >= 24 and box["height"] >= 24, (button.inner_text(), box)


def test_branches_are_indented_and_figures_stand_at_the_right_edge(visit, size):
    visit.open()
    page = visit.page
    step = page.locator("[class*=st-key-device-step-]").filter(
        has=page.locator("[class*=st-key-device-branch-]")
    )
    own, branch = step.first.bounding_box(), step.first.locator("[class*=st-key-device-branch-]").first
    inner = branch.bounding_box()
    assert own["x"] + 8 <= inner["x"] and inner["x"] + inner["width"] <= own["x"] + own["width"] + 1
    edges = set()
    for row in branch.locator("[class*=st-key-device-row-]").all():
        cells = row.locator(":scope > *")
        if cells.count() == 2:
            words, figures = (cells.nth(place).bounding_box() for place in (0, 1))
            edges.add(round(figures["x"] + figures["width"]))
            assert words["x"] + words["width"] <= figures["x"] + 1
    assert (
        len(edges) == 1
        and inner["x"] + inner["width"] - 2 <= edges.pop() <= visit.page.viewport_size["width"]
    )


@pytest.mark.parametrize("size", ["phone"])
def test_a_caution_said_before_leads_to_its_step(visit, size):
    visit.open()
    page = visit.page
    page.locator("a[href='#step-2']").last.click()
    visit.settled()
    box = page.get_by_text(re.compile(r"^2\. ")).first.bounding_box()
    assert 0 <= box["y"] <= PHONE_HEIGHT / 2
    assert page.get_by_text("Stop point").count() >= 2 and visit.complaints == []
