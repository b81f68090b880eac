"""What happened to a device: one tap proposes the usual damage, and a person adds what is there.

A tap says nothing was seen: only what somebody then taps becomes damage of the
device. A battery that such an event may have hurt is suspect at once, and stays
so until somebody enters what a look at it showed.
"""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from triage.domain.catalogue import Catalogue

KeyOf = Callable[[str], str]


def what_happened(catalogue: Catalogue, key: KeyOf) -> None:
    """Draw the events, and for the one tapped the damage that usually comes with it."""
    bundles = {bundle.slug: bundle for bundle in catalogue.bundle}
    tapped = st.pills(
        "What happened?", list(bundles), key=key("bundle"), format_func=lambda slug: bundles[slug].name,
        on_change=_tell, args=(catalogue, key), wrap=True,
    )  # fmt: skip
    if tapped is None:
        return
    offered, name = bundles[tapped].kinds, key(f"usual-{tapped}")
    st.session_state[name] = [slug for slug in st.session_state[key("kinds")] if slug in offered]
    st.pills(
        "Usual damage: tap what you see", offered, selection_mode="multi", key=name,
        format_func=lambda slug: catalogue.kinds[slug].name, on_change=_merge, args=(offered, name, key),
        wrap=True,
    )  # fmt: skip


def _tell(catalogue: Catalogue, key: KeyOf) -> None:
    """The event says the cause, and what it may have done to the battery."""
    state = st.session_state
    bundle = next((bundle for bundle in catalogue.bundle if bundle.slug == state[key("bundle")]), None)
    if bundle is None:
        return
    state[key("cause")] = bundle.cause
    hurt = any(catalogue.kinds[slug].battery != "none" for slug in bundle.kinds)
    if hurt and state[key("Battery")] == "not-seen":
        state[key("Battery")] = "suspect"


def _merge(offered: tuple[str, ...], name: str, key: KeyOf) -> None:
    state = st.session_state
    kept = [slug for slug in state[key("kinds")] if slug not in offered or slug in state[name]]
    state[key("kinds")] = [*kept, *(slug for slug in state[name] if slug not in kept)]
