"""The device in hand, kept as it is described: in the session, and as a draft in the shop's record.

The address carries only the draft's id. Where no record can be opened the
session alone holds it, and the page says so.
"""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from triage.app_pages.shared.draft import DEMO, EMPTY, Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.shop_counter import open_shop, read_unit
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.documents import parse_toml
from triage.domain.units.unit import Ownership, Unit
from triage.domain.units.unit_file import unit_from
from triage.errors import InputError, LedgerError, TriageError, UnitFileError
from triage.ledger.drafts import StoredDraft, new_token, read_draft, save_draft
from triage.workflows.shop.shop import Shop

# Nobody has looked yet: ownership is in doubt until somebody says otherwise.
BLANK = Unit(name="", tier="", ownership=Ownership(lock="cannot-tell", identity="not-checked"))


def begin(draft: Draft, id: str = "", job: int | None = None) -> None:
    """Make a draft the one the pages answer; one that is new to the record gets its id when it is kept.

    job : the job that the device became.
    """
    state = st.session_state
    state["device-draft"], state["device-id"], state["device-job"] = draft, id, job
    state["device-unkept"], state["device-answered"] = "", None
    state["device-turn"] = state.get("device-turn", -1) + 1
    state.pop("device-spare", None)
    _write_address(id)
    if not id and draft not in (DEMO, EMPTY):
        _keep(draft)


def change(draft: Draft) -> None:
    """The same device, described further: saved at once."""
    if draft != st.session_state["device-draft"]:
        st.session_state["device-draft"] = draft
        _keep(draft)


def became(job: int) -> None:
    """The device in hand is now a job; the record holds its draft as that job's already."""
    state = st.session_state
    state["device-job"], state["device-id"] = job, state["device-id"] or state.get("device-spare", "")
    _write_address(state["device-id"])


def forget() -> None:
    """Read the draft of the address again: it was changed in another tab."""
    st.session_state["device-id"] = ""
    st.session_state["device-reread"] = True


def to_claim() -> tuple[str, StoredDraft]:
    """Token and content of the draft in hand, for the act that makes it a job.

    One that the record does not hold yet has the same token at every press, so that two are one.
    """
    state, draft = st.session_state, st.session_state["device-draft"]
    token = state["device-id"] or state.setdefault("device-spare", new_token())
    return token, StoredDraft(draft.toml, draft.ask, draft.walk_in, open_shop().settings.currency)


def current_job() -> int | None:
    """The job that the device in hand became."""
    return st.session_state.get("device-job")


def answered() -> None:
    """Start a new turn of the form, folded."""
    st.session_state["device-turn"] += 1


def current_draft() -> Draft:
    """The draft of this session, or of the address when that names another (reload, link)."""
    state, id = st.session_state, st.query_params.get("device", "")
    if id and id != state.get("device-id"):
        stored = _stored(id)
        if stored:
            begin(Draft(stored.toml, stored.ask, stored.walk_in), id, stored.job)
            if state.pop("device-reread", False):
                state["device-unkept"] = (
                    "This device was changed in another tab. The page shows the newest description"
                )
        else:
            begin(DEMO)
            state["device-unkept"] = (
                "This record has no device at this address. The page shows the demo device."
            )
    elif "device-draft" not in state:
        begin(DEMO)
    elif not id:
        _write_address(state["device-id"])  # another page was between
    return state["device-draft"]


def unkept_words() -> str:
    """Why the device in hand is not kept; "" when it is."""
    return st.session_state.get("device-unkept", "")


def address() -> dict[str, str]:
    """What a link to another page carries, so that it answers the same device."""
    id = st.session_state.get("device-id", "")
    return {"device": id} if id else {}


def read(draft: Draft, shop: Shop) -> tuple[Unit | None, InputError | None]:
    """Read a draft's description, finished or not: the unit, or what is wrong with it."""
    if not draft.toml:
        return BLANK, None
    try:
        return _read_unfinished(draft.toml, shop), None
    except InputError as refusal:
        return None, refusal


def finished(unit: Unit) -> bool:
    """Whether a unit is described enough for a verdict."""
    return bool(unit.tier and (unit.findings or unit.symptoms))


def listed(refusal: TriageError) -> str:
    """Each fault of a refusal on a line of its own."""
    return "\n".join(f"- {literal(line)}" for line in str(refusal).splitlines())


def _read_unfinished(toml: str, shop: Shop) -> Unit:
    document = parse_toml(toml, "the description", UnitFileError)
    device = document.tables.get("device")
    if not isinstance(device, dict) or device.get("tier") != "":
        return read_unit(toml, "the description", shop)
    device["tier"] = next(iter(shop.prices.tiers()))
    return replace(unit_from(document, shop.catalogue, shop.prices), tier="")


def _keep(draft: Draft) -> None:
    state = st.session_state
    ledger, why_not = shop_record()
    if ledger is None:
        state["device-unkept"] = f"Not saved: {why_not}"
        return
    try:
        id, currency = state["device-id"] or new_token(), open_shop().settings.currency
        job = save_draft(ledger, id, StoredDraft(draft.toml, draft.ask, draft.walk_in, currency))
        state["device-id"] = id
        _write_address(id)
        state["device-unkept"] = "" if job is None else "Not saved: this device is already a job"
        state["device-job"] = job
    except LedgerError as refusal:
        state["device-unkept"] = f"Not saved: {refusal}"


def _stored(id: str) -> StoredDraft | None:
    ledger, _ = shop_record()
    try:
        return read_draft(ledger, id) if ledger else None
    except LedgerError:
        return None


def _write_address(id: str) -> None:
    if id:
        st.query_params["device"] = id
    else:
        st.query_params.pop("device", None)
