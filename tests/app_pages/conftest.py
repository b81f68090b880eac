"""The app with a record of its own, and a device put into that record."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from triage.ledger.drafts import StoredDraft, new_token, read_draft, save_draft
from triage.ledger.opening import open_ledger
from triage.shipped import shipped


@pytest.fixture
def record(monkeypatch, tmp_path):
    """An empty record, which the app opens too."""
    for name in ("CATALOGUE", "PRIORS", "POSTERIOR", "SETTINGS", "PRICES"):
        monkeypatch.delenv(f"TRIAGE_SHOP_{name}", raising=False)
    monkeypatch.setenv("TRIAGE_LEDGER", str(tmp_path / "record.sqlite"))
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
