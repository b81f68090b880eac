"""`triage app`: the same answers as pages in a browser, served on this machine only."""

from __future__ import annotations

import os
import runpy
import sys
from typing import Annotated

import typer

from triage.cli import options


def app(
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to serve on.")] = 8501,
    address: Annotated[
        str, typer.Option(help="Address to serve on; 127.0.0.1 is this machine only.")
    ] = "127.0.0.1",
    posterior: options.OwnPosterior = None,
    priors: options.OwnPriors = None,
    catalogue: options.Catalogue = None,
    settings: options.OwnSettings = None,
    prices: options.Prices = None,
    ledger: options.Ledger = None,
) -> None:
    """Open the pages in a browser: judge a device, keep the shop's jobs, quote an owner."""
    from triage.ledger.opening import open_ledger
    from triage.shipped import shipped
    from triage.workflows.shop.shop_files import ShopFiles

    files = ShopFiles(catalogue, priors, posterior, settings, prices)
    if files != ShopFiles():  # the shipped demo opens; opening it here as well would cost a second
        files.open()  # a shop that cannot be opened is refused here, in the terminal
    os.environ.update(files.to_environment())
    if ledger:
        if "://" not in ledger:
            ledger = os.path.abspath(ledger)
        open_ledger(ledger).close()  # a record that cannot be opened is refused here too
        os.environ["TRIAGE_LEDGER"] = ledger
    page = shipped("app.py")
    os.chdir(page.parent)  # Streamlit reads .streamlit/config.toml from the folder it starts in
    typer.echo(f"Serving http://{address}:{port} (Ctrl-C stops it)", err=True)

    sys.stderr.flush()
    # `python -m streamlit` in this process, so that a signal to it needs no passing on.
    sys.argv = ["streamlit", "run", str(page), "--server.port", str(port), "--server.address", address]
    runpy.run_module("streamlit", run_name="__main__", alter_sys=True)
