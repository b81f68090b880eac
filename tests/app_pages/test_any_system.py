"""Nothing of this program exists on one desktop system only."""

from __future__ import annotations

import ast
import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.app_pages.on_another_system import ABSENT
from triage.app_pages.shared.pages import PAGES
from triage.posterior.store import save_posterior
from triage.shipped import shipped
from triage.workflows.shop.shop import DEMO_POSTERIOR, open_shop

ROOT = Path(__file__).parents[2]
FILES = [ROOT / "app.py", *(ROOT / "triage").rglob("*.py")]
# "Availability: Unix" in Python's library reference (os, signal, subprocess), and what means another thing
# on Windows: execv leaves the caller's terminal, a file is not locked by a descriptor that a child inherits.
POSIX_ONLY = {
    "chown", "execl", "execv", "execve", "execvp", "fchmod", "fork", "forkpty", "getegid", "geteuid",
    "getgid", "getloadavg", "getpgid", "getpgrp", "getpriority", "getsid", "getuid", "initgroups", "killpg",
    "lchown", "mkfifo", "mknod", "nice", "openpty", "posix_spawn", "sched_getaffinity", "sched_setaffinity",
    "setgid", "setpgid", "setpgrp", "setpriority", "setsid", "setuid", "sync", "sysconf", "uname", "wait3",
    "wait4", "pthread_kill", "pthread_sigmask", "setitimer", "sigwait", "SIGALRM", "SIGCHLD", "SIGHUP",
    "SIGKILL", "SIGPIPE", "SIGQUIT", "SIGSTOP", "SIGUSR1", "SIGUSR2", "O_CLOEXEC", "O_DIRECTORY",
    "O_NOFOLLOW",
}  # fmt: skip


def posix_only(text):
    """Modules and names in a program that Python has on POSIX systems only, those inside functions too."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (name for alias in node.names if (name := alias.name.split(".")[0]) in ABSENT)
        elif isinstance(node, ast.ImportFrom):
            module = (node.module or "").split(".")[0]
            if module in ABSENT:
                yield module
            if module in ("os", "signal"):
                yield from (alias.name for alias in node.names if alias.name in POSIX_ONLY)
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.value.id in ("os", "signal") and node.attr in POSIX_ONLY:
                yield node.attr
        elif isinstance(node, ast.keyword) and node.arg in ("pass_fds", "preexec_fn"):
            yield node.arg


def test_no_file_names_what_only_posix_systems_have():
    assert all(hasattr(os, name) or hasattr(signal, name) for name in POSIX_ONLY) or os.name == "nt"
    poor = "import fcntl\ndef f():\n    from os import fork\n    os.nice(1)\n    Popen(a, pass_fds=b)"
    assert sorted(posix_only(poor)) == ["fcntl", "fork", "nice", "pass_fds"]
    found = {str(path.relative_to(ROOT)): list(posix_only(path.read_text("utf-8"))) for path in FILES}
    assert {path: names for path, names in found.items() if names} == {}


@pytest.mark.slow
def test_every_module_is_imported_and_every_page_opened_without_posix(tmp_path):
    demo = open_shop(posterior=shipped(DEMO_POSTERIOR)).posterior
    # Few of the demo's draws: the pages are under test, not their figures.
    few = {name: draws.isel(draw=slice(40)) for name, draws in demo.draws.items()}
    save_posterior(replace(demo, draws=few), tmp_path / "few")
    own = {"TRIAGE_SHOP_POSTERIOR": str(tmp_path / "few"), "TRIAGE_RECORD": str(tmp_path / "record.sqlite")}
    command = [sys.executable, "-X", "warn_default_encoding", "-m", "tests.app_pages.on_another_system"]
    done = subprocess.run(
        command, env=os.environ | own, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr[-3000:]
    said = set(done.stdout.splitlines())
    assert {f"page {name}" for name in PAGES} <= said
    files = {path.relative_to(ROOT).with_suffix("") for path in FILES[1:] if path.name != "__init__.py"}
    assert {".".join(path.parts) for path in files} <= said
