"""The app with a record of its own, and a device put into that record."""

from __future__ import annotations

import hashlib
import sqlite3
from functools import cache, partial

import pytest
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest

from triage.app_pages.shared.pages import PAGES
from triage.elicitation import beside_record
from triage.elicitation.conflict import kind_conflicts
from triage.ledger.drafts import StoredDraft, new_token, read_draft, save_draft
from triage.ledger.opening import open_ledger
from triage.shipped import shipped


@pytest.fixture(scope="session", autouse=True)
def components_looked_for_once():
    """A server looks for components in all installed packages once; the tests' app would at every draw."""
    once = cache(manifest_scanner.scan_component_manifests)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(manifest_scanner, "scan_component_manifests", once)
        yield


@pytest.fixture
def record(monkeypatch, tmp_path):
    """An empty record, which the app opens too."""
    for name in ("CATALOGUE", "PRIORS", "POSTERIOR", "SETTINGS", "PRICES", "MODELS"):
        monkeypatch.delenv(f"TRIAGE_SHOP_{name}", raising=False)
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "record.sqlite"))
    ledger = open_ledger()
    yield ledger
    ledger.close()


@pytest.fixture
def page(record):
    return AppTest.from_file(str(shipped("app.py")), default_timeout=60)


@pytest.fixture
def keep(record):
    """Keep a device as a draft; its id."""

    def keep(draft):
        id = new_token()
        save_draft(record, id, StoredDraft(draft.toml, draft.ask, draft.walk_in))
        return id

    return keep


@pytest.fixture
def kept(record, page):
    """The draft that the page's address names, as the record holds it."""
    return lambda: read_draft(record, page.query_params["device"])


def held(record, folder):
    """All that the record holds, and every file beside it."""
    with sqlite3.connect(record.engine.url.database) as connection:
        told = "\n".join(connection.iterdump())
    connection.close()
    files = {
        path: path.read_bytes() for path in folder.rglob("*") if path.is_file() and "sqlite" not in path.name
    }
    return hashlib.sha256(told.encode()).hexdigest(), files


@pytest.fixture
def opened(page, record, monkeypatch, tmp_path):
    """Open a page, by its address and with what was chosen on it; nothing may be written by that."""

    monkeypatch.setenv("TRIAGE_WORK", str(tmp_path / "work"))
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)

    def opened(name, chosen=(), **address):
        before = held(record, tmp_path)
        page.switch_page(str(PAGES[name]))
        for key, value in address.items():
            page.query_params[key] = value
        for key, value in dict(chosen).items():
            page.session_state[key] = value
        page.run()
        assert not page.exception, page.exception[0].value
        assert held(record, tmp_path) == before, "opened, it wrote something"
        return page

    return opened


@pytest.fixture
def few_draws(monkeypatch, tmp_path):
    """Sets of assumptions of this test's own, and few draws: the pages are under test, not their figures."""
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)
    monkeypatch.setenv("TRIAGE_WORK", str(tmp_path / "work"))
    monkeypatch.setattr(
        "triage.workflows.answers.beliefs_in_money.kind_conflicts", partial(kind_conflicts, most_draws=30)
    )
    monkeypatch.setattr(beside_record.prior_chances, "__defaults__", (400,))
    monkeypatch.setattr("triage.workflows.shop.shop.DRAWS", 100)
