"""The records of the ledger's own tests, and a desk on them."""

import pytest

from tests.ledger.conftest import ledger, ledger_url, postgres_url, sqlite_url  # noqa: F401
from tests.workflows.at_the_desk import DAY
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import open_shop


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=DAY)


@pytest.fixture
def keeper(ledger, shop):  # noqa: F811
    return RecordKeeper(ledger, shop, by="ada")
