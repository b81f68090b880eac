"""`triage app`: the same answers as pages in a browser, served on this machine only."""

from __future__ import annotations

import os
import re
import runpy
import socket
import sys
from pathlib import Path
from typing import Annotated

import psutil
import typer

from triage.cli import options

_HOST = re.compile(r"[A-Za-z0-9._:%-]+")
_THIS_MACHINE, _EVERYWHERE = ("127.0.0.1", "localhost"), ("0.0.0.0", "::")


def app(
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to serve on.")] = 8501,
    address: Annotated[
        str, typer.Option(help="Address to serve on; 127.0.0.1 is this machine only.")
    ] = "127.0.0.1",
    name: Annotated[
        list[str] | None,
        typer.Option(help="Host name that other machines use for it. Repeatable."),
    ] = None,
    posterior: options.OwnPosterior = None,
    priors: options.OwnPriors = None,
    catalogue: options.Catalogue = None,
    settings: options.OwnSettings = None,
    prices: options.Prices = None,
    ledger: options.Ledger = None,
    shared: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Folder with photographs, settings, assumptions and learned chances, shared by all benches "
            "of a record on a server. Default: $TRIAGE_SHARED, else a folder on each machine.",
        ),
    ] = None,
) -> None:
    """Serve the pages for a browser: assess devices, run jobs, quote owners."""
    from triage.ledger.opening import ledger_url, open_ledger, shared_folder
    from triage.shipped import shipped
    from triage.workflows.shop.shop_files import ShopFiles

    for option, told in (("--address", address), *(("--name", one) for one in name or ())):
        if not _HOST.fullmatch(told):
            raise typer.BadParameter(f"{told!r} is not a host name or address", param_hint=option)
    files = ShopFiles(catalogue, priors, posterior, settings, prices)
    if files != ShopFiles():  # the shipped demo opens; opening it here as well would cost a second
        files.open()  # a shop that cannot be opened is refused here, in the terminal
    os.environ.update(files.to_environment())
    if shared is not None:
        if not shared.is_dir():
            raise typer.BadParameter(f"{shared} is not a folder, or cannot be reached", param_hint="--shared")
        os.environ["TRIAGE_SHARED"] = str(shared.resolve())
    if ledger:
        if "://" not in ledger:
            ledger = os.path.abspath(ledger)
        open_ledger(ledger).close()  # a record that cannot be opened is refused here too
        os.environ["TRIAGE_RECORD"] = ledger
    if ledger_url(None).get_backend_name() != "sqlite" and shared_folder() is None:
        typer.echo(
            "The record is on a server, but photographs, settings, assumptions and learned chances are on "
            "this machine only. Use --shared to name one folder that every bench can reach.",
            err=True,
        )
    os.environ["TRIAGE_HOSTS"] = ",".join(hosts(address, name or []))
    server = Path(__file__).parents[1] / "app_pages" / "server.py"
    os.chdir(shipped("app.py").parent)  # Streamlit reads .streamlit/config.toml from the folder it starts in
    typer.echo(f"Serving http://{address}:{port} (press Ctrl-C to stop)", err=True)
    if address not in _THIS_MACHINE:
        typer.echo(
            "Open to the network without a login: anyone who reaches this address can read and change the "
            f"record. Host names allowed: {', '.join(os.environ['TRIAGE_HOSTS'].split(','))}",
            err=True,
        )

    sys.stderr.flush()
    # `python -m streamlit` in this process, so that a signal to it needs no passing on.
    sys.argv = ["streamlit", "run", str(server), "--server.port", str(port), "--server.address", address]
    runpy.run_module("streamlit", run_name="__main__", alter_sys=True)


def hosts(address: str, names: list[str]) -> list[str]:
    """Names that the server answers to, in `Host`: a page elsewhere cannot lend it a name of its own.

    One that listens on every address of the machine answers to each of them, and to the machine's name.
    """
    own = [] if address in _THIS_MACHINE else [address]
    if address in _EVERYWHERE:
        found = (a for of_one in psutil.net_if_addrs().values() for a in of_one)
        own = [a.address.split("%")[0] for a in found if a.family in (socket.AF_INET, socket.AF_INET6)]
        own += [socket.gethostname(), socket.getfqdn()]
    return list(dict.fromkeys((*_THIS_MACHINE, *own, *names)))
