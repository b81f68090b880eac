"""The shop and its answers, kept between reruns of a page."""

from __future__ import annotations

import os
from dataclasses import fields, replace
from datetime import date

import streamlit as st

from triage.app_pages.shared.shop_record import newest_entry, record_url, shop_record
from triage.domain.data_job import DataFacts
from triage.domain.documents import parse_toml
from triage.domain.shop.supply import Supply
from triage.domain.units.unit import Unit
from triage.domain.units.unit_file import unit_from
from triage.errors import LedgerError, UnitFileError
from triage.policy.answer.assessment import Assessment, PartFlip
from triage.policy.answer.quote import Quote, QuoteKind
from triage.policy.answer.verdict import Settled
from triage.policy.data_job.quote import DataQuote
from triage.policy.pricing.sensitivity import Swing
from triage.workflows.answers.assess import answer_at
from triage.workflows.answers.break_even import part_flips, settled_ownership, what_flips
from triage.workflows.answers.pricing import PricedUnit, UnitPricing, priced_at, unit_pricing
from triage.workflows.fitting.standing import posterior_standing
from triage.workflows.jobs.shelf import supply_of
from triage.workflows.shop.own_books import own_books, why_left_aside
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_files import ShopFiles

Stamp = tuple[tuple[str, int], ...]


def shop_files() -> ShopFiles:
    """The files this server was started with; what the shop learned and set takes the demo's place."""
    return own_books(ShopFiles.from_environment(os.environ))


def open_shop() -> Shop:
    """The shop as it is on disk and in its record today; opened again when a file changes."""
    files = shop_files()
    return _stocked(files, _stamp(files), date.today(), _supply(files))


def standing_words() -> str:
    """What the figures of this shop rest on, in one line; "" where there is nothing to say."""
    files = shop_files()
    words = _standing_words(files, _stamp(files), date.today(), record_url())
    aside = why_left_aside(files)
    return f"Your own fit is not used: {aside}. {words}" if aside else words


def answer(toml: str, ask: float | None, walk_in: bool) -> Assessment:
    """What to do with a described device, but for `flips`; kept for the same words, shop and day."""
    files = shop_files()
    return _answer(toml, ask, walk_in, files, _stamp(files), date.today(), _supply(files))


def part_prices(toml: str, ask: float | None, walk_in: bool) -> tuple[PartFlip, ...]:
    """At which part prices the verdict changes: asked for once the answer stands."""
    files = shop_files()
    return _part_prices(toml, ask, walk_in, files, _stamp(files), date.today(), _supply(files))


def turning_points(toml: str, ask: float | None, walk_in: bool) -> tuple[Settled | None, tuple[Swing, ...]]:
    """What would change the verdict: asked for, not worked out with every answer."""
    files = shop_files()
    return _turning_points(toml, ask, walk_in, files, _stamp(files), date.today(), _supply(files))


def quoted(toml: str, kind: QuoteKind, price: float | None) -> Quote:
    """What to quote an owner for a described device; kept like an answer."""
    files = shop_files()
    return _quoted(toml, kind, price, files, _stamp(files), date.today(), _supply(files))


def data_quoted(toml: str, facts: DataFacts, fee: float, price: float | None) -> DataQuote:
    """What to quote an owner for saving the data of a described device; kept like an answer."""
    files = shop_files()
    return _data_quoted(toml, facts, fee, price, files, _stamp(files), date.today(), _supply(files))


def read_unit(toml: str, name: str, shop: Shop) -> Unit:
    """Check a description; `name` is what a fault calls it."""
    return unit_from(parse_toml(toml, name, UnitFileError), shop.catalogue, shop.prices)


def _stamp(files: ShopFiles) -> Stamp:
    """When each given file, or anything in each given folder, was last written."""
    times = []
    for item in fields(files):
        path = getattr(files, item.name)
        inside = [] if path is None else [path, *(path.iterdir() if path.is_dir() else ())]
        times.append((item.name, max((p.stat().st_mtime_ns for p in inside if p.exists()), default=0)))
    return tuple(times)


@st.cache_resource(max_entries=4, show_spinner=False)
def _open(files: ShopFiles, stamp: Stamp, today: date) -> Shop:
    return files.open(today)


def _supply(files: ShopFiles) -> Supply:
    """Part prices, shelf parts and results of checks, as the record has them at this moment."""
    try:
        return _recorded(files, _stamp(files), date.today(), record_url(), newest_entry())
    except LedgerError:
        return Supply()


@st.cache_resource(max_entries=2, show_spinner=False)
def _recorded(files: ShopFiles, stamp: Stamp, today: date, url: str, newest: int) -> Supply:
    ledger, _ = shop_record()
    return supply_of(ledger, _open(files, stamp, today).catalogue) if ledger is not None else Supply()


@st.cache_resource(max_entries=4, show_spinner=False)
def _stocked(files: ShopFiles, stamp: Stamp, today: date, supply: Supply) -> Shop:
    return replace(_open(files, stamp, today), supply=supply)


# The record may grow at any time: what it holds beyond the fit is counted again now and then.
@st.cache_data(max_entries=4, ttl=120, show_spinner=False)
def _standing_words(files: ShopFiles, stamp: Stamp, today: date, url: str) -> str:
    shop, (ledger, _) = _open(files, stamp, today), shop_record()
    whole = files == ShopFiles(catalogue=files.catalogue)  # all of it is the demo's
    words = posterior_standing(shop.posterior, shop, ledger, today, name_demo=not whole).words
    if whole:
        return f"Invented demo shop: all its figures are invented. {words}".strip()
    made_up = f"Invented for the demo: {', '.join(files.invented)}. " if files.invented else ""
    if files.priors is not None and shop.priors.success.invented:
        made_up += "Assumptions that you did not state yourself are the demo's, also invented. "
    return f"{made_up}{words}".strip()


@st.cache_data(max_entries=200, show_spinner="Calculating…")
def _answer(
    toml: str, ask: float | None, walk_in: bool, files: ShopFiles, stamp: Stamp, today: date, supply: Supply
) -> Assessment:
    return answer_at(_priced(toml, ask, walk_in, files, stamp, today, supply))


@st.cache_data(max_entries=200, show_spinner=False)
def _part_prices(
    toml: str, ask: float | None, walk_in: bool, files: ShopFiles, stamp: Stamp, today: date, supply: Supply
) -> tuple[PartFlip, ...]:
    return part_flips(_priced(toml, ask, walk_in, files, stamp, today, supply))


@st.cache_resource(max_entries=4, show_spinner=False)
def _priced(
    toml: str, ask: float | None, walk_in: bool, files: ShopFiles, stamp: Stamp, today: date, supply: Supply
) -> PricedUnit:
    return priced_at(_pricing(toml, walk_in, files, stamp, today, supply), ask)


# Another price leaves the states as they are. A large plan holds some 30 MB.
@st.cache_resource(max_entries=4, show_spinner=False)
def _pricing(
    toml: str, walk_in: bool, files: ShopFiles, stamp: Stamp, today: date, supply: Supply
) -> UnitPricing:
    shop = _stocked(files, stamp, today, supply)
    return unit_pricing(read_unit(toml, "the description", shop), shop, walk_in)


@st.cache_data(max_entries=200, show_spinner="Trying one change at a time…")
def _turning_points(
    toml: str, ask: float | None, walk_in: bool, files: ShopFiles, stamp: Stamp, today: date, supply: Supply
) -> tuple[Settled | None, tuple[Swing, ...]]:
    shop = _stocked(files, stamp, today, supply)
    unit = read_unit(toml, "the description", shop)
    settled = None if walk_in else settled_ownership(unit, shop, ask)
    return settled, what_flips(unit, shop, ask, walk_in)


@st.cache_data(max_entries=200, show_spinner="Calculating…")
def _quoted(
    toml: str,
    kind: QuoteKind,
    price: float | None,
    files: ShopFiles,
    stamp: Stamp,
    today: date,
    supply: Supply,
) -> Quote:
    from triage.workflows.answers.quote import quote_unit  # its optimiser would hold up the first page

    shop = _stocked(files, stamp, today, supply)
    return quote_unit(read_unit(toml, "the description", shop), shop, kind, price)


@st.cache_data(max_entries=200, show_spinner="Calculating…")
def _data_quoted(
    toml: str,
    facts: DataFacts,
    fee: float,
    price: float | None,
    files: ShopFiles,
    stamp: Stamp,
    today: date,
    supply: Supply,
) -> DataQuote:
    from triage.workflows.answers.data_quote import quote_data

    shop = _stocked(files, stamp, today, supply)
    return quote_data(read_unit(toml, "the description", shop), shop, facts, fee, price)
