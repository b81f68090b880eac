"""Every page at both sizes: reachable by its menu, nothing asked of the outside, nothing for axe to find."""

from __future__ import annotations

import ast

import pytest

from triage.app_pages.shared.pages import PAGES
from triage.shipped import shipped

# Streamlit's own, named in the notes on its widgets: the hidden input of an upload, the grid's index column.
FRAMEWORKS_OWN = {
    "presentation-role-conflict": "stFileUploader",
    "empty-table-header": "stDataFrame",
}
# The menu of a narrow screen wraps its list items in elements that are no list items: Streamlit's own.
MENU = {"exclude": [["[data-testid=stSidebarNav]"]]}


def listed():
    """(title, question) of every page of the menu, read from the router and the pages."""
    router = ast.parse(shipped("app.py").read_text(encoding="utf-8"))
    (pages,) = [node for node in ast.walk(router) if isinstance(node, ast.List)]
    for call in pages.elts:
        told = {word.arg: word.value.value for word in call.keywords}
        if told.get("visibility") != "hidden":
            yield told["title"], question(call.args[0].slice.value)


def question(name):
    """What a page asks at its head."""
    for node in ast.walk(ast.parse(PAGES[name].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "page_head":
            return node.args[0].value
    raise AssertionError(f"{name} has no page_head")


def go(visit, size, title, asked):
    """Open a page by its menu, as a user does."""
    page = visit.page
    if size == "phone":
        page.get_by_test_id("stExpandSidebarButton").click()
        page.get_by_test_id("stSidebarNav").get_by_text(title, exact=True).click()
    else:
        page.get_by_test_id("stHeader").get_by_text(title, exact=True).click()  # in view, one tap away
    visit.idle(asked)


@pytest.mark.parametrize(("title", "asked"), list(listed()), ids=lambda text: text.replace(" ", "-"))
def test_a_page_is_sound(visit, size, title, asked):
    from axe_playwright_python.sync_playwright import Axe

    visit.open()
    if title != "Device":
        go(visit, size, title, asked)
    visit.settled()
    visit.full_shot(f"page-{title.lower().replace(' ', '-')}-{size}")
    main = visit.page.locator("[data-testid=stMain]")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth"), "wider than the screen"
    assert visit.outside == [] and visit.complaints == []
    found = Axe().run(visit.page, context=MENU).response["violations"]
    told = [told for one in found for told in unexcused(one)]
    assert not told, "\n".join(told)


def unexcused(violation):
    """What axe found, but for what is the framework's own."""
    for node in violation["nodes"]:
        if FRAMEWORKS_OWN.get(violation["id"], "\0") not in node["html"]:
            yield f"{violation['id']}: {violation['help']}: {node['html'][:200]}"
