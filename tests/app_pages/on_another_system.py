"""Import every module and open every page as on a system without POSIX's modules; run by its test.

They are kept from this program's files only: its dependencies come in a form made for each system.
A file that is opened without its encoding said is an error as well: systems differ in what they take.
"""

from __future__ import annotations

import builtins
import importlib
import pkgutil
import sys
import warnings
from pathlib import Path

from streamlit.testing.v1 import AppTest

# "Unix-specific services" of Python's library reference, and what else Python for Windows lacks.
ABSENT = {
    "_posixsubprocess", "crypt", "curses", "fcntl", "grp", "nis", "posix", "pty", "pwd", "readline",
    "resource", "spwd", "syslog", "termios", "tty",
}  # fmt: skip


def main() -> None:
    """Print the name of each module that was imported and of each page that was opened."""
    import triage

    home = Path(triage.__file__).parent
    ours = (str(home), str(home.parent / "app.py"))
    real = builtins.__import__

    def import_(name, globals=None, locals=None, fromlist=(), level=0):
        asks = str((globals or {}).get("__file__", ""))
        if name.split(".")[0] in ABSENT and asks.startswith(ours):
            raise ModuleNotFoundError(f"{asks} imports {name}, which other systems do not have")
        return real(name, globals, locals, fromlist, level)

    builtins.__import__ = import_
    # A page is run as the main module.
    warnings.filterwarnings("error", category=EncodingWarning, module=r"triage\.|__main__")
    from triage.app_pages.shared.pages import PAGES
    from triage.shipped import shipped

    modules = {found.name for found in pkgutil.walk_packages(triage.__path__, "triage.")}
    for name in sorted(modules):
        importlib.import_module(name)
        sys.stdout.write(f"{name}\n")
    app = AppTest.from_file(str(shipped("app.py")), default_timeout=60)
    for name, path in PAGES.items():
        app.switch_page(str(path)).run()
        assert not app.exception, app.exception[0].value
        sys.stdout.write(f"page {name}\n")


if __name__ == "__main__":
    main()
