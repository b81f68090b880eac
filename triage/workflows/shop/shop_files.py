"""Which files a shop is opened from, as named on the command line or in the environment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path

from triage.workflows.shop.shop import Shop, open_shop

_VARIABLE = "TRIAGE_SHOP_"
# What a shop replaces to be rid of invented figures, in the words of the bench.
_INVENTED = {
    "posterior": "chances and past jobs",
    "priors": "assumptions about repairs and checks",
    "settings": "rates and rules",
    "prices": "prices",
}


@dataclass(frozen=True)
class ShopFiles:
    """Paths of a shop's books; each one that is None is the shipped demo's, which has no models.

    The fields are the arguments of `open_shop`.
    """

    catalogue: Path | None = None
    priors: Path | None = None
    posterior: Path | None = None
    settings: Path | None = None
    prices: Path | None = None
    models: Path | None = None

    def open(self, today: date | None = None) -> Shop:
        """Open the shop on a day."""
        return open_shop(**{item.name: getattr(self, item.name) for item in fields(self)}, today=today)

    @property
    def invented(self) -> tuple[str, ...]:
        """What of it is the demo's invention."""
        return tuple(words for name, words in _INVENTED.items() if getattr(self, name) is None)

    def to_environment(self) -> dict[str, str]:
        """Write the paths for a child process."""
        given = ((item.name, getattr(self, item.name)) for item in fields(self))
        return {_VARIABLE + name.upper(): str(path.resolve()) for name, path in given if path is not None}

    @classmethod
    def from_environment(cls, environment: Mapping[str, str]) -> ShopFiles:
        """Read the paths that `to_environment` wrote."""
        given = {item.name: environment.get(_VARIABLE + item.name.upper()) for item in fields(cls)}
        return cls(**{name: Path(path) for name, path in given.items() if path})
