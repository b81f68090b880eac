"""Each page's foot leads on, and the device in hand goes along."""

from __future__ import annotations

import ast

import pytest

from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.next_step import _NEXT
from triage.app_pages.shared.pages import PAGES
from triage.shipped import shipped

ROUTED = {
    node.slice.value
    for node in ast.walk(ast.parse(shipped("app.py").read_text(encoding="utf-8")))
    if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "PAGES"
}


def test_every_page_of_the_router_leads_on_to_another():
    assert set(_NEXT) == ROUTED == set(PAGES)
    for page, links in _NEXT.items():
        assert links and {name for name, _ in links} <= ROUTED - {page}


@pytest.mark.parametrize("name", sorted(ROUTED))
def test_every_page_draws_its_own_foot(name):
    script = PAGES[name].read_text(encoding="utf-8")
    assert script.endswith(f'if __name__ == "__main__":\n    page()\n    next_step("{name}")\n')


def test_the_device_in_hand_goes_along(page, keep):
    id = keep(Draft('[device]\nname = "Kept"\ntier = "middle"\n[[finding]]\nkind = "port-dirty"\n', 12.0))
    page.query_params["device"] = id
    page.run()
    (quote,) = [link.proto for link in page.get("page_link") if link.proto.label == "See the quote page"]
    assert f"device={id}" in quote.query_string
