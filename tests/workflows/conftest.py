"""The records of the ledger's own tests."""

from tests.ledger.conftest import ledger, ledger_url, postgres_url, sqlite_url  # noqa: F401
