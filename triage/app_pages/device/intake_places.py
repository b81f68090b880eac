"""Where the damage is: a zone by one tap, then what is wrong there by one more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import streamlit as st

from triage.domain.catalogue import Catalogue
from triage.domain.units.unit import Finding
from triage.reports.charts.device_drawing import device_drawing, drawing_words

KeyOf = Callable[[str], str]
# The drawing stands beside the list where there is room; a phone keeps the list alone.
_WIDE_ONLY = "<style>@media (max-width: 640px) {.st-key-device-drawing {display: none}}</style>"


@dataclass(frozen=True)
class DevicePlace:
    """A part of the device, or of the catalogue: what may be wrong there.

    zone : "" where the place is none of the catalogue's zones.
    """

    name: str
    zone: str
    kinds: tuple[str, ...]


def places(catalogue: Catalogue) -> dict[str, DevicePlace]:
    """Zones that a kind names, then what has no zone by its family."""
    found = {}
    for slug, zone in catalogue.zones.items():
        kinds = tuple(kind.slug for kind in catalogue.kinds.values() if slug in kind.zones)
        if kinds:
            found[slug] = DevicePlace(zone.name, slug, kinds)
    for slug, family in catalogue.families.items():
        kinds = tuple(
            kind.slug for kind in catalogue.kinds.values() if kind.family == slug and not kind.zones
        )
        if kinds:
            found[f"family {slug}"] = DevicePlace(family.name.lower(), "", kinds)
    return found


def by_place(catalogue: Catalogue, key: KeyOf) -> None:
    """Draw the places, and for the one tapped what may be wrong there: a tap puts it on or takes it off."""
    offered = places(catalogue)
    tapped = st.pills(
        "Where is the damage?", list(offered), key=key("place"), default=None,
        format_func=lambda slug: offered[slug].name, wrap=True,
    )  # fmt: skip
    if tapped is None:
        return
    place = offered[tapped]
    name = key(f"place-{tapped}")
    st.session_state[name] = [slug for slug in st.session_state[key("kinds")] if slug in place.kinds]
    st.pills(
        "Damage there (tap to add or remove)", place.kinds, selection_mode="multi", key=name,
        format_func=lambda slug: catalogue.kinds[slug].name, on_change=_merge, args=(place, name, key),
        wrap=True,
    )  # fmt: skip


def zone_tapped(kind: str, key: KeyOf) -> str:
    """The zone in which a damage was tapped; "" when it was not put on by its place."""
    return st.session_state.get(key("zones"), {}).get(kind, "")


def drawing(findings: Iterable[Finding], catalogue: Catalogue) -> None:
    """Draw the device with what was found, for screens that have room beside the list."""
    names = {slug: zone.name for slug, zone in catalogue.zones.items()}
    found = Counter(finding.zone for finding in findings if finding.zone)
    with st.container(key="device-drawing"):
        st.html(_WIDE_ONLY)
        st.image(device_drawing(found, names), width=242, alt=drawing_words(found, names))


def _merge(place: DevicePlace, name: str, key: KeyOf) -> None:
    state = st.session_state
    before = state[key("kinds")]
    kept = [slug for slug in before if slug not in place.kinds or slug in state[name]]
    new = [slug for slug in state[name] if slug not in before]
    state[key("kinds")] = [*kept, *new]
    state[key("zones")] = {**state.get(key("zones"), {}), **dict.fromkeys(new, place.zone)}
