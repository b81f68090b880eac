"""A shop as the program opens it: catalogue, books, assumptions and stored draws."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path

from triage.domain.catalogue import Catalogue, load_catalogue
from triage.domain.shop.model_csv import read_models
from triage.domain.shop.price_book import PriceBook, load_price_book
from triage.domain.shop.price_origin import PriceOrigin, price_origin
from triage.domain.shop.settings import Settings, load_settings
from triage.domain.shop.supply import Supply
from triage.domain.units.unit import Unit
from triage.errors import PosteriorError, StalePosteriorError
from triage.outcome_models.registry import older_forms
from triage.policy.problem.books import Books
from triage.policy.problem.forecast import UnitForecast
from triage.policy.solver.layout_cache import Layouts
from triage.posterior.store import Posterior, load_posterior
from triage.prediction.forecast import Forecaster, forecast_unit
from triage.priors.prior_set import PriorSet, load_priors
from triage.reports.wording.fit import model_name
from triage.shipped import shipped

DEMO_PRIORS = "models/priors/demo"
DEMO_POSTERIOR = "models/posteriors/demo"
DEMO_SETTINGS = "models/shop/demo-settings.toml"
DEMO_PRICES = "models/shop/demo-prices.toml"
# Posterior draws and quadrature nodes that a plan is solved on.
DRAWS, NODES = 1000, 7


@dataclass(frozen=True)
class Shop:
    """Everything an assessment needs besides the unit.

    demo : whether the stored draws are the shipped, invented ones.
    supply : what the shop's record knows of part prices, its shelf and its checks.
    """

    catalogue: Catalogue
    settings: Settings
    prices: PriceBook
    priors: PriorSet
    posterior: Posterior
    today: date
    demo: bool = False
    supply: Supply = field(default_factory=Supply)

    @property
    def chances(self) -> Posterior:
        """The stored draws, to make an answer of.

        Raises
        ------
        PosteriorError : the fit failed its checks; no forecast uses such draws.
        StalePosteriorError : an older version of the program made it, and its draws meant something else.
        """
        if older := older_forms(self.posterior.manifest):
            raise StalePosteriorError(
                f"{self.posterior.manifest.folder}: this fit is from an older version of the program, "
                f"whose draws mean something else ({', '.join(map(model_name, older))}); run a new fit"
            )
        if failed := self.posterior.manifest.failed:
            raise PosteriorError(
                f"{self.posterior.manifest.folder}: this fit failed its checks for "
                f"{', '.join(map(model_name, failed))}, so no answer uses it; "
                "go back to an earlier fit or run a new one"
            )
        return self.posterior

    @cached_property
    def forecaster(self) -> Forecaster:
        """Forecasts units one after another from the draws that an answer is made of."""
        return Forecaster(self.catalogue, self.chances, self.priors, self.settings, draws=DRAWS, nodes=NODES)

    def forecast(self, unit: Unit, draws: int | None = None) -> UnitForecast:
        """Forecast a unit, quicker from fewer draws; DRAWS of them when None.

        Raises
        ------
        PosteriorError, StalePosteriorError : no answer can be made of the stored draws.
        """
        if draws is None:
            return self.forecaster.forecast(unit)
        return forecast_unit(
            unit, self.catalogue, self.chances, self.priors, self.settings, draws=draws, nodes=NODES
        )

    @cached_property
    def layouts(self) -> Layouts:
        """Layouts of the plans of units before."""
        return Layouts()

    def books_for(self, unit: Unit, part_prices: dict[str, float] | None = None) -> Books:
        """The shop's books as the policy reads them for a unit.

        The record's own prices and shelf outrank the price book; `part_prices` outrank both.
        """
        prices = self.supply.book_for(self.prices, self.settings, unit.tier, unit.model)
        return Books(
            self.catalogue,
            self.settings,
            prices,
            self.priors.repairs,
            self.today,
            part_prices or {},
            dict(self.supply.checks),
        )

    def price_origin(self, unit: Unit) -> PriceOrigin:
        """Which prices stand for a unit: entered, of its model, or of its price class."""
        return price_origin(self.prices, unit.tier, unit.model, unit.working_price is not None)


def beliefs_folder(priors: Path | None, catalogue: Path | None) -> Path | None:
    """Folder of prior files to start from: the one given, else what belongs to the catalogue.

    The shipped assumptions speak of the shipped catalogue's kinds. A shop that
    brings its own kinds and no assumptions starts from weak ones (None).
    """
    return priors or (None if catalogue else shipped(DEMO_PRIORS))


def open_shop(
    catalogue: Path | None = None,
    priors: Path | None = None,
    posterior: Path | None = None,
    settings: Path | None = None,
    prices: Path | None = None,
    models: Path | None = None,
    today: date | None = None,
) -> Shop:
    """Open a shop's files; each one not given is the shipped demo's.

    models : the shop's prices by model, which outrank those in `prices`.

    Raises
    ------
    InputError, PosteriorError : what is wrong with the files, all faults of a file at once.
    """
    known = load_catalogue(catalogue)
    book = load_price_book(prices or shipped(DEMO_PRICES))
    return Shop(
        known,
        load_settings(settings or shipped(DEMO_SETTINGS)),
        book.with_models(read_models(models)) if models else book,
        load_priors(beliefs_folder(priors, catalogue), known),
        load_posterior(posterior or shipped(DEMO_POSTERIOR), known),
        today or date.today(),
        demo=posterior is None,
    )
