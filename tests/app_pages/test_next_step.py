"""Each page's foot leads on, and the device in hand goes along."""

from __future__ import annotations

import ast

import pytest

import triage.app_pages
from triage.app_pages.draft import Draft
from triage.app_pages.next_step import _NEXT
from triage.shipped import shipped

FOLDER = triage.app_pages.__path__[0]
ROUTED = {
    node.value.removesuffix(".py")
    for node in ast.walk(ast.parse(shipped("app.py").read_text(encoding="utf-8")))
    if isinstance(node, ast.Constant) and str(node.value).endswith(".py")
}


def test_every_page_of_the_router_leads_on_to_another():
    assert set(_NEXT) == ROUTED
    for page, links in _NEXT.items():
        assert links and {name for name, _ in links} <= ROUTED - {page}


@pytest.mark.parametrize("name", sorted(ROUTED))
def test_every_page_draws_its_own_foot(name):
    with open(f"{FOLDER}/{name}.py", encoding="utf-8") as file:
        assert file.read().endswith(f'if __name__ == "__main__":\n    page()\n    next_step("{name}")\n')


def test_the_device_in_hand_goes_along(page, keep):
    id = keep(Draft('[device]\nname = "Kept"\ntier = "middle"\n[[finding]]\nkind = "port-dirty"\n', 12.0))
    page.query_params["device"] = id
    page.run()
    (quote,) = [
        link.proto for link in page.get("page_link") if link.proto.label == "What to quote an owner for it"
    ]
    assert f"device={id}" in quote.query_string
