"""The description of a device as a form: what it is, what is wrong, whose it is, the price.

Every change is kept at once; the button only asks for the answer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, TypeVar, get_args

import streamlit as st

from triage.app_pages.device.intake_file import from_file_part, show_faults
from triage.app_pages.device.intake_findings import findings_part, readings_part, symptoms_part
from triage.app_pages.device.unit_text import unit_text
from triage.app_pages.shared.current_device import answered, change, current_draft, unkept_words
from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.shop_counter import read_unit
from triage.domain.catalogue import Catalogue
from triage.domain.money import money_text
from triage.domain.shop.price_origin import PriceOrigin, price_origin
from triage.domain.units.suspicion import latest_results
from triage.domain.units.unit import CAUSES, BatteryState, Enrolled, Identity, Lock, Ownership, Source, Unit
from triage.errors import InputError
from triage.reports.wording.prices import origin_words
from triage.workflows.shop.shop import Shop

Word = TypeVar("Word", bound=str)
_BUY, _OWNER = "Buy from a seller", "Repair for its owner"
BATTERY = {
    "not-seen": "not inspected yet",
    "sound": "inspected, no damage",
    "suspect": "suspect",
    "hazard": "damaged: swollen, bent, pierced or leaking",
    "reacting": "reacting: hot while off, hissing, smelling or smoking",
    "absent": "no battery",
}
LOCK = {
    "clear": "no lock",
    "locked-to-owner": "locked; its owner is here and can remove it",
    "locked-to-another": "locked by somebody else",
    "cannot-tell": "not known yet",
}
IDENTITY = {
    "agrees": "match",
    "mismatch": "mismatch",
    "cannot-read": "unreadable",
    "not-checked": "not checked",
}

ENROLLED = {
    "": "not stated",
    "clear": "clear",
    "not-checked": "not checked",
    "enrolled": "enrolled or on finance",
}
SOURCE = {
    "": "not stated",
    "owner-in-person": "its owner, in person",
    "trade-seller": "trade seller",
    "auction": "auction",
    "unknown": "unknown",
}


def summary(unit: Unit, draft: Draft, shop: Shop) -> str:
    """One line that stands for the folded description."""
    told = origin_words(shop.price_origin(unit), shop.today, shop.settings.price_age_days)
    priced = literal(told) if unit.tier else "no price class"
    price = "owner's device" if draft.walk_in else "no asking price" if draft.ask is None else (
        f"asking price {money_text(draft.ask, shop.settings.currency)}"
    )  # fmt: skip
    words = [
        literal(unit.name) or "this device",
        priced,
        f"{len(unit.findings)} kind{'s' * (len(unit.findings) != 1)} of damage",
        *([f"{len(unit.symptoms)} symptom{'s' * (len(unit.symptoms) != 1)}"] if unit.symptoms else []),
        price,
    ]
    return ", ".join(word.replace("$", r"\$") if word == price else word for word in words)


def in_words(unit: Unit, catalogue: Catalogue) -> list[str]:
    """What is known of a device, a line each, for screens with room beside the answer."""
    lines = []
    for finding in unit.findings:
        seen = "" if finding.seen else f", suspected: {20 * finding.chance:.0f} in 20"
        kind = catalogue.kinds[finding.kind]
        words = kind.severities[finding.severity - 1]
        lines.append(f"**{literal(kind.name)}**: {literal(words)} ({finding.severity} of 3){seen}")
    lines += [f"symptom: {literal(catalogue.symptoms[slug].name)}" for slug in unit.symptoms]
    for slug, found in latest_results(unit).items():
        check = catalogue.checks[slug]
        lines.append(f"{literal(check.name)}: {literal(check.result_words[0 if found else 1])}")
    held = unit.ownership
    lines.append(f"battery: {BATTERY[unit.battery]}")
    lines.append(f"activation lock: {LOCK[held.lock]}")
    lines.append(f"serial number and IMEI: {IDENTITY[held.identity]}")
    return lines


@st.fragment
def intake(unit: Unit, draft: Draft, shop: Shop) -> None:
    """Draw the form, filled from `unit`."""
    described, from_file = st.tabs(["Fill in the form", "Load a file"])
    with described:
        _Form(unit, draft, shop).draw()
    with from_file:
        # Not `draft`: what was typed since the page was drawn goes along, its price above all.
        from_file_part(current_draft(), shop)


@dataclass(frozen=True)
class _Form:
    """The widgets of one turn: their keys carry the turn, so a new draft fills them anew."""

    unit: Unit
    draft: Draft
    shop: Shop

    def key(self, name: str) -> str:
        """Key of one widget."""
        return f"device-{st.session_state['device-turn']}-{name}"

    def draw(self) -> None:
        """Draw every field, keep what changed, and answer on the button."""
        catalogue = self.shop.catalogue
        unit, ask, walk_in = self._head()
        unit = replace(
            unit,
            findings=findings_part(self.unit, catalogue, self.key),
            symptoms=symptoms_part(self.unit, catalogue, self.key),
            readings=readings_part(self.unit, catalogue, self.key),
        )
        unit = replace(unit, **self._state(unit.tier, walk_in))
        wanted = st.button("Get the verdict", type="primary", key=self.key("go"))
        draft = Draft(unit_text(unit), None if walk_in else ask, walk_in)
        self._keep(unit, draft)
        if words := unkept_words():
            st.caption(f":material/warning: {literal(words)}")
        if wanted:
            self._submit(unit, draft)

    def _keep(self, unit: Unit, draft: Draft) -> None:
        """Keep what differs from what the form said last; a text only written otherwise stays as it is."""
        state, told = st.session_state, (unit, draft.ask, draft.walk_in)
        changed = told != state.get(self.key("told"), (self.unit, self.draft.ask, self.draft.walk_in))
        state[self.key("told")] = told
        if changed:
            change(draft)
            if state["device-answered"] is not None:
                st.rerun()  # the answer on the page is renewed: it never stands beside another device

    def _submit(self, unit: Unit, draft: Draft) -> None:
        try:
            read_unit(draft.toml, "the form", self.shop)
        except InputError as refusal:
            show_faults(refusal)
            return
        if not unit.findings and not unit.symptoms:
            st.error("No damage or symptom is entered. Choose at least one.")
            return
        answered()
        st.rerun()

    def _head(self) -> tuple[Unit, float | None, bool]:
        """The device, its battery and the price."""
        unit, tiers = self.unit, self.shop.prices.tiers()
        tier = st.pills(
            "Price class", list(tiers), default=unit.tier or None, key=self.key("tier"),
            format_func=lambda slug: tiers[slug].name,
        )  # fmt: skip
        route = st.pills(
            "Purchase or repair?", [_BUY, _OWNER], default=_OWNER if self.draft.walk_in else _BUY,
            required=True, key=self.key("route"),
        )  # fmt: skip
        walk_in = route == _OWNER
        with st.grid(2, min_column_width=150, gap="xsmall"):
            name = st.text_input("Name or tray label", unit.name, max_chars=200, key=self.key("name"))
            ask = st.number_input(
                f"Asking price ({self.shop.settings.currency})", 0.0, 1e7, self.draft.ask, 5.0, "%.2f",
                key=self.key("ask"), placeholder="not known", disabled=walk_in,
            )  # fmt: skip
        st.session_state.setdefault(self.key("Battery"), unit.battery)
        battery = st.pills(
            "Battery", list(get_args(BatteryState)), required=True, key=self.key("Battery"),
            format_func=BATTERY.__getitem__,
        )  # fmt: skip
        told = replace(unit, name=name or "", tier=tier or "", battery=battery or unit.battery)
        return told, ask, walk_in

    def _state(self, tier: str, walk_in: bool) -> dict:
        """Cause, worth, ownership."""
        unit, held = self.unit, self.unit.ownership
        currency = self.shop.settings.currency
        causes = list(dict.fromkeys(["", *CAUSES, unit.cause]))
        st.session_state.setdefault(self.key("cause"), unit.cause)
        with st.grid(2, min_column_width=150, gap="xsmall"):
            lock = self._choose("Activation lock", "lock", Lock, LOCK, held.lock)
            identity = self._choose("Serial number and IMEI", "identity", Identity, IDENTITY, held.identity)
            enrolled, source = held.enrolled, held.source
            if not walk_in:
                enrolled = self._choose(
                    "Company-managed or on finance", "enrolled", Enrolled, ENROLLED, enrolled
                )
                source = self._choose("Bought from", "source", Source, SOURCE, source)
            cause = st.selectbox(
                "Cause", causes, format_func=lambda slug: slug or "not known", key=self.key("cause")
            )
            model = st.text_input("Model (optional)", unit.model, max_chars=200, key=self.key("model"))
            prices, model = self.shop.prices, model or ""
            book = prices.working_price(tier, model) if tier in prices.tiers() else None
            working = st.number_input(
                f"Resale value ({currency})", 0.0, 1e7, unit.working_price, 5.0, "%.2f",
                key=self.key("working"), placeholder=_book_words(book),
            )  # fmt: skip
            parts = st.number_input(
                f"Parts value ({currency})", 0.0, 1e7, unit.parts_value, 5.0, "%.2f",
                key=self.key("parts"), placeholder="price book",
            )  # fmt: skip
        if model.strip() and tier:
            origin = price_origin(prices, tier, model, working is not None)
            st.caption(literal(self._origin_words(origin)))
        with st.container(horizontal=True):
            listed = st.checkbox("On a block list", held.listed, key=self.key("listed"))
            carrier = st.checkbox("Carrier-locked", held.carrier_locked, key=self.key("carrier"))
            data = st.checkbox("Save the data", unit.data_wanted, key=self.key("data"))
            proof = held.proof_recorded
            refused = unit.extra_work == "refused"
            if walk_in:
                proof = st.checkbox("Proof of ownership and signature recorded", proof, key=self.key("proof"))
                refused = st.checkbox("Owner refuses extra work", refused, key=self.key("refused"))
        return {
            "cause": cause, "model": model, "working_price": working, "parts_value": parts,
            "data_wanted": data, "extra_work": "refused" if refused else "ask",
            "ownership": Ownership(lock, identity, listed, carrier, proof, enrolled, source),
        }  # fmt: skip

    def _origin_words(self, origin: PriceOrigin) -> str:
        shop = self.shop
        words = origin_words(origin, shop.today, shop.settings.price_age_days)
        return f"Resale value by: {words}."

    def _choose(self, label: str, name: str, kind: Any, words: dict[str, str], value: Word) -> Word:
        options: list[Word] = list(get_args(kind))
        return st.selectbox(
            label, options, options.index(value), format_func=words.__getitem__, key=self.key(name)
        )


def _book_words(price: float | None) -> str:
    return "price book" if price is None else f"price book: {price:g}"
