"""Records for tests: a SQLite file, and PostgreSQL where a server is given.

`TRIAGE_TEST_POSTGRES` is the address of a server on which databases may be made
and dropped (`.ci/postgres start FOLDER` prints one). Without it those tests are
skipped, or fail where everything is required.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import make_url

from triage.ledger.opening import open_ledger
from triage.ledger.record import Ledger

ADDRESS = os.environ.get("TRIAGE_TEST_POSTGRES", "")


@pytest.fixture
def postgres_url() -> Iterator[str]:
    """A separate empty database."""
    if not ADDRESS:
        if os.environ.get("TRIAGE_REQUIRE_ALL"):
            pytest.fail("TRIAGE_TEST_POSTGRES is not set")
        pytest.skip("no PostgreSQL is offered (TRIAGE_TEST_POSTGRES)")
    server = sa.create_engine(
        make_url(ADDRESS).set(drivername="postgresql+psycopg"), isolation_level="AUTOCOMMIT"
    )
    name = f"record_{uuid.uuid4().hex}"
    with server.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    yield make_url(ADDRESS).set(database=name).render_as_string(hide_password=False)
    with server.connect() as connection:
        connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
    server.dispose()


@pytest.fixture
def sqlite_url(tmp_path) -> str:
    """A file that does not exist yet."""
    return str(tmp_path / "record.sqlite")


@pytest.fixture(params=["sqlite", "postgresql"])
def ledger_url(request) -> str:
    """Address of an empty record of each kind."""
    return request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_url")


@pytest.fixture
def ledger(ledger_url) -> Iterator[Ledger]:
    """An empty record of each kind, open."""
    opened = open_ledger(ledger_url)
    yield opened
    opened.close()
