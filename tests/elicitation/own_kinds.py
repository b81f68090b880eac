"""A small catalogue of a shop's own: no phones, no repairs named."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family

CATALOGUE = Catalogue(
    family=(Family("front", "front"), Family("back", "back")),
    kind=(
        DamageKind("glass", "glass", "front"),
        DamageKind("cell", "cell", "back"),
        DamageKind("port", "port", "back"),
    ),
)
