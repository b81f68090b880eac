"""The description of a device as a form: what it is, what is wrong, whose it is, the price."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import get_args

import streamlit as st

from triage.app_pages.draft import DEMO, EMPTY, Draft
from triage.app_pages.intake_file import Keep, from_file_part, show_faults
from triage.app_pages.literal import literal
from triage.app_pages.shop_counter import read_unit
from triage.app_pages.unit_text import unit_text
from triage.domain.money import money_text
from triage.domain.units import BatteryState, Finding, Identity, Lock, Ownership, Reading, Unit
from triage.errors import InputError
from triage.workflows.shop import Shop

_BUY, _OWNER = "A wreck to buy", "An owner's device"
_SEEN = 20  # twentieths: certain
_BATTERY = {
    "not-seen": "not seen yet",
    "sound": "seen, sound",
    "suspect": "suspect",
    "hazard": "swollen, pierced, leaking or hot",
}
_LOCK = {
    "clear": "clear",
    "locked-to-owner": "locked to the person here",
    "locked-to-another": "locked to somebody else",
    "cannot-tell": "cannot tell yet",
}
_IDENTITY = {
    "agrees": "they agree",
    "mismatch": "they do not agree",
    "cannot-read": "cannot be read",
    "not-checked": "not checked yet",
}
_CAUSES = ("dropped", "bent", "wet", "crushed", "worn")


def summary(unit: Unit, draft: Draft, shop: Shop) -> str:
    """One line that stands for the folded description."""
    tier = shop.prices.tiers()[unit.tier].name
    count = len(unit.findings) + len(unit.symptoms)
    price = "an owner's" if draft.walk_in else "no price asked" if draft.ask is None else (
        f"asked {money_text(draft.ask, shop.settings.currency)}"
    )  # fmt: skip
    words = [
        literal(unit.name) or "this device",
        f"{tier.lower()} tier",
        f"{count} finding{'s' if count != 1 else ''}",
        price,
    ]
    return ", ".join(word.replace("$", r"\$") if word == price else word for word in words)


@st.fragment
def intake(unit: Unit, draft: Draft, shop: Shop, keep: Keep) -> None:
    """Draw the form, filled from `unit`; `keep` takes what is to be answered."""
    described, from_file = st.tabs(["Describe it", "From a file"])
    with described:
        _Form(unit, draft, shop).draw(keep)
    with from_file:
        from_file_part(draft, shop, keep)


@dataclass(frozen=True)
class _Form:
    """The widgets of one turn: their keys carry the turn, so a new draft fills them anew."""

    unit: Unit
    draft: Draft
    shop: Shop

    def key(self, name: str) -> str:
        """Key of one widget."""
        return f"device-{st.session_state['device-turn']}-{name}"

    def draw(self, keep: Keep) -> None:
        """Draw every field and the buttons; keep the draft when it is in order."""
        unit, ask, walk_in = self._head()
        unit = replace(unit, findings=self._findings(), symptoms=self._symptoms(), readings=self._readings())
        unit = replace(unit, **self._state(unit.tier, walk_in))
        with st.container(horizontal=True):
            wanted = st.button("Work it out", type="primary", key=self.key("go"))
            if st.button("Empty form", key=self.key("empty")):
                keep(EMPTY)
                st.rerun()
            if self.draft != DEMO and st.button("Demo device", key=self.key("demo")):
                keep(DEMO)
                st.rerun()
        if wanted:
            self._submit(unit, ask, walk_in, keep)

    def _submit(self, unit: Unit, ask: float | None, walk_in: bool, keep: Keep) -> None:
        try:
            text = unit_text(unit)
            read_unit(text, "the form", self.shop)
        except InputError as refusal:
            show_faults(refusal)
            return
        if not unit.findings and not unit.symptoms:
            st.error("Nothing is wrong with it yet: choose a damage, or what it does.")
            return
        keep(Draft(text, None if walk_in else ask, walk_in))
        st.rerun()

    # -- the device and the price ---------------------------------------------
    def _head(self) -> tuple[Unit, float | None, bool]:
        unit, tiers = self.unit, self.shop.prices.tiers()
        with st.grid(2, min_column_width=150, gap="xsmall"):
            name = st.text_input("Name or tray", unit.name, max_chars=200, key=self.key("name"))
            tier = st.selectbox(
                "Tier", list(tiers), index=_place(unit.tier, tiers), key=self.key("tier"),
                format_func=lambda slug: tiers[slug].name, placeholder="Choose",
            )  # fmt: skip
            route = st.selectbox(
                "Whose is it?", [_BUY, _OWNER], index=int(self.draft.walk_in), key=self.key("route")
            )
            walk_in = route == _OWNER
            ask = st.number_input(
                f"Asking price ({self.shop.settings.currency})", 0.0, 1e7, self.draft.ask, 5.0, "%.2f",
                key=self.key("ask"), placeholder="not known", disabled=walk_in,
            )  # fmt: skip
        told = replace(unit, name=name or "", tier=tier or "")
        return told, ask, walk_in

    # -- what is wrong ----------------------------------------------------------
    def _findings(self) -> tuple[Finding, ...]:
        catalogue = self.shop.catalogue
        bundles = {bundle.slug: bundle for bundle in catalogue.bundle}
        held = {finding.kind: finding for finding in self.unit.findings}
        st.session_state.setdefault(self.key("kinds"), list(held))
        st.pills(
            "What happened to it? A tap adds the usual damage", list(bundles), key=self.key("bundle"),
            format_func=lambda slug: bundles[slug].name, on_change=self._add_bundle,
        )  # fmt: skip
        order = {family: place for place, family in enumerate(catalogue.families)}
        kinds = sorted(catalogue.kinds.values(), key=lambda kind: order[kind.family])
        chosen = st.multiselect(
            "Damage, seen or suspected", [kind.slug for kind in kinds], key=self.key("kinds"),
            format_func=self._kind_words, placeholder="Type to search, or choose",
        )  # fmt: skip
        return tuple(self._finding(held.get(slug) or Finding(slug)) for slug in chosen)

    def _kind_words(self, slug: str) -> str:
        kind = self.shop.catalogue.kinds[slug]
        return f"{kind.name} ({self.shop.catalogue.families[kind.family].name.lower()})"

    def _add_bundle(self) -> None:
        """Add the damage of the tapped bundle; it is a button, so it does not stay chosen."""
        state = st.session_state
        tapped = state.get(self.key("bundle"))
        for bundle in self.shop.catalogue.bundle:
            if bundle.slug == tapped:
                state[self.key("kinds")] = list(dict.fromkeys([*state[self.key("kinds")], *bundle.kinds]))
                state[self.key("cause")] = bundle.cause
        state[self.key("bundle")] = None

    def _finding(self, finding: Finding) -> Finding:
        """Severity, place and certainty of one damage, side by side."""
        kind = self.shop.catalogue.kinds[finding.kind]
        zones = self.shop.catalogue.zones
        places = ["", *kind.zones, *(zone for zone in zones if zone not in kind.zones)]
        twentieths = sorted({*range(1, _SEEN + 1), 20 * finding.chance}, reverse=True)
        with st.grid(4, min_column_width=145, gap="xsmall", key=self.key(f"{kind.slug}-row")) as row:
            with row.cell(column_span=2):
                severity = st.selectbox(
                    f"**{literal(kind.name)}**", [1, 2, 3], finding.severity - 1,
                    key=self.key(f"{kind.slug}-severity"),
                    format_func=lambda level: f"{level}: {kind.severities[level - 1]}",
                )  # fmt: skip
            zone = st.selectbox(
                "where", places, places.index(finding.zone), key=self.key(f"{kind.slug}-zone"),
                format_func=lambda slug: zones[slug].name if slug else "not said",
            )  # fmt: skip
            count = st.selectbox(
                "seen?", twentieths, twentieths.index(20 * finding.chance), format_func=_presence_words,
                key=self.key(f"{kind.slug}-chance"),
            )  # fmt: skip
        return replace(finding, severity=severity, zone=zone, chance=count / _SEEN)

    def _symptoms(self) -> tuple[str, ...]:
        symptoms = self.shop.catalogue.symptoms
        return tuple(
            st.multiselect(
                "What it does, where the cause is not known",
                list(symptoms),
                list(self.unit.symptoms),
                format_func=lambda slug: symptoms[slug].name,
                key=self.key("symptoms"),
                placeholder="Choose",
            )  # fmt: skip
        )

    def _readings(self) -> tuple[Reading, ...]:
        """Checks already made, by what they said."""
        checks = self.shop.catalogue.checks
        held = {reading.check: reading.found for reading in self.unit.readings}
        found, clear = (
            st.multiselect(
                f"Checks made that {words}", list(checks), [slug for slug in held if held[slug] is said],
                format_func=lambda slug: checks[slug].name, key=self.key(f"checks-{said}"),
                placeholder="None",
            )
            for said, words in ((True, "found it"), (False, "found nothing"))
        )  # fmt: skip
        return tuple(Reading(slug, True) for slug in found) + tuple(
            Reading(slug, False) for slug in clear if slug not in found
        )

    # -- battery, worth, ownership ----------------------------------------------
    def _state(self, tier: str, walk_in: bool) -> dict:
        unit, held = self.unit, self.unit.ownership
        currency = self.shop.settings.currency
        causes = list(dict.fromkeys(["", *_CAUSES, unit.cause]))
        st.session_state.setdefault(self.key("cause"), unit.cause)
        with st.grid(2, min_column_width=150, gap="xsmall"):
            battery = self._choose("Battery", BatteryState, _BATTERY, unit.battery)
            cause = st.selectbox(
                "Cause", causes, format_func=lambda slug: slug or "not known", key=self.key("cause")
            )
            lock = self._choose("Lock", Lock, _LOCK, held.lock)
            identity = self._choose("Do its numbers agree?", Identity, _IDENTITY, held.identity)
            model = st.text_input("Model (optional)", unit.model, max_chars=200, key=self.key("model"))
            book = self.shop.prices.working_price(tier, model) if tier in self.shop.prices.tiers() else None
            working = st.number_input(
                f"Worth working ({currency})", 0.0, 1e7, unit.working_price, 5.0, "%.2f",
                key=self.key("working"), placeholder=_book_words(book),
            )  # fmt: skip
            parts = st.number_input(
                f"Worth as parts ({currency})", 0.0, 1e7, unit.parts_value, 5.0, "%.2f",
                key=self.key("parts"), placeholder="price book",
            )  # fmt: skip
        with st.container(horizontal=True):
            listed = st.checkbox("On a block list", held.listed, key=self.key("listed"))
            carrier = st.checkbox("Locked to a carrier", held.carrier_locked, key=self.key("carrier"))
            data = st.checkbox("Data wanted", unit.data_wanted, key=self.key("data"))
            proof = held.proof_recorded
            refused = unit.extra_work == "refused"
            if walk_in:
                proof = st.checkbox("Owner's proof and signature recorded", proof, key=self.key("proof"))
                refused = st.checkbox("Owner refuses extra work", refused, key=self.key("refused"))
        ownership = Ownership(lock, identity, listed, carrier, proof)
        return {
            "battery": battery, "cause": cause, "model": model or "", "working_price": working,
            "parts_value": parts, "data_wanted": data, "extra_work": "refused" if refused else "ask",
            "ownership": ownership,
        }  # fmt: skip

    def _choose(self, label: str, kind, words: dict[str, str], value: str) -> str:
        options = list(get_args(kind))
        return st.selectbox(
            label, options, options.index(value), format_func=words.__getitem__, key=self.key(label)
        )


def _presence_words(twentieths: float) -> str:
    return "seen" if twentieths >= _SEEN else f"suspected, {twentieths:g} in 20"


def _book_words(price: float | None) -> str:
    return "price book" if price is None else f"book: {price:g}"


def _place(value: str, known) -> int | None:
    return list(known).index(value) if value in known else None
