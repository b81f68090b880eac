"""Work that takes minutes, in a process of its own: start it, see where it stands, stop it.

All that is known of a work lies in its folder, `HOME/KIND/ID/`: `events.jsonl` (how far it is),
`result.json` (put there in one step), and who stopped it or how its process ended. So a page that
is reloaded, a second page, and a server that was started again all see the same.

The child keeps a file of that folder locked while it lives, and the system lets go of that lock
however the child dies. A locked file is therefore the proof that the work runs, and no process
number has to be believed. One of a kind at a time: who starts one holds `HOME/KIND.lock` until
the child holds its own.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import psutil
from filelock import FileLock, Timeout

from triage.errors import LongWorkError
from triage.ledger.opening import data_folder, folder_of_record, ledger_url
from triage.workflows.background.child import EVENTS, LIVES, RESULT, write_json
from triage.workflows.background.kinds import KINDS

KEEP = 3  # results of a kind
_RUNNING = "one of these is already running; wait for it or stop it"
_SIGKILL = 9  # its name is not known on every system
_PROCESS, _STOPPED, _ENDED, _OUTPUT = "process.json", "stopped.json", "ended.json", "output.txt"
_ID_TIME = "%Y%m%dT%H%M%S.%f"
# Threads of this process that wait for children of its own, by the folder of the work.
_WAITING: dict[Path, threading.Thread] = {}


@dataclass(frozen=True)
class LongWork:
    """One long work, and where it stands.

    started : in UTC.
    words : where it stands, for people.
    done, total : a true count, where there is one.
    result : a JSON object once the work is done.
    problem : why it failed; "" otherwise.
    """

    kind: str
    id: str
    started: datetime
    state: Literal["running", "done", "failed", "stopped"]
    words: str
    done: int | None
    total: int | None
    result: dict[str, Any] | None
    problem: str


def work_home() -> Path:
    """`$TRIAGE_WORK`, else the folder `work` beside the record's file; for one on a server, on this machine.

    Work is a process of this machine, known by a lock: no other bench can ask for it.
    """
    given, url = os.environ.get("TRIAGE_WORK", ""), ledger_url(None)
    local = folder_of_record(url) if url.get_backend_name() == "sqlite" else data_folder()
    return Path(given) if given else local / "work"


def start(
    kind: str,
    arguments: dict[str, Any],
    home: Path | None = None,
    kinds: Mapping[str, str] = KINDS,
) -> LongWork:
    """Begin a work in a process of its own.

    Raises
    ------
    LongWorkError : one of its kind is running already, or the folder cannot be written.
    """
    home = home or work_home()
    try:
        (home / kind).mkdir(parents=True, exist_ok=True, mode=0o700)
        starting = FileLock(home / f"{kind}.lock", mode=0o600).acquire(timeout=5, poll_interval=0.01)
    except Timeout as problem:
        raise LongWorkError(_RUNNING) from problem
    except OSError as problem:
        raise LongWorkError(f"{home} cannot be written: {problem.strerror}") from problem
    with starting:
        if _lives(home / kind):
            raise LongWorkError(_RUNNING)
        _forget_old(home / kind)
        folder = home / kind / f"{datetime.now(UTC).strftime(_ID_TIME)}-{secrets.token_hex(2)}"
        folder.mkdir(mode=0o700)
        try:
            child = _spawn(folder)
        except OSError as problem:
            shutil.rmtree(folder)
            raise LongWorkError(f"no process can be started: {problem.strerror}") from problem
        write_json(folder / _PROCESS, {"pid": child.pid})
        waiting = threading.Thread(target=_wait, args=(child, folder), daemon=True)
        _WAITING[folder] = waiting
        waiting.start()
        while not (folder / EVENTS).exists() and waiting.is_alive():
            time.sleep(0.005)  # until the child holds its own lock
    assert child.stdin is not None
    with suppress(BrokenPipeError), child.stdin as told:  # a child that died at once is told of by look
        told.write(json.dumps({"target": kinds[kind], "arguments": arguments}).encode())
    return _read(folder, running=True)


def look(kind: str, home: Path | None = None) -> LongWork | None:
    """The newest work of a kind, as it stands now; None where there never was one."""
    home = home or work_home()
    folders = _folders(home / kind)
    return _read(folders[0], _is_running(home, kind)) if folders else None


def newest_done(kind: str, home: Path | None = None) -> LongWork | None:
    """The newest work of a kind that has a result, whatever came after it."""
    for folder in _folders((home or work_home()) / kind):
        if (folder / RESULT).is_file() and (work := _read(folder, running=False)).state == "done":
            return work
    return None


def stop(kind: str, home: Path | None = None) -> None:
    """End the running work of a kind, if there is one; its earlier results stay."""
    home = home or work_home()
    folders = _folders(home / kind)
    if not folders or not _is_running(home, kind):
        return
    folder = folders[0]
    process = _json(folder / _PROCESS)
    if process is None or (folder / RESULT).exists():
        return
    write_json(folder / _STOPPED, {"at": datetime.now(UTC).isoformat()})
    family = _family(process["pid"])
    for end in (psutil.Process.terminate, psutil.Process.kill):
        for member in family:
            with suppress(psutil.NoSuchProcess):
                end(member)
        until = time.monotonic() + 0.6
        while time.monotonic() < until:
            if not _is_running(home, kind):
                return
            time.sleep(0.02)


def _spawn(folder: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "triage.workflows.background.child", str(folder)]
    with (folder / _OUTPUT).open("wb") as output:
        return subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=output,
            stderr=output,
            # Neither Ctrl-C nor the end of the server ends the work; Windows knows the second way only.
            start_new_session=True,
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )


def _family(leader: int) -> list[psutil.Process]:
    """A process and all that it started."""
    try:
        process = psutil.Process(leader)
        return [process, *process.children(recursive=True)]
    except psutil.NoSuchProcess:
        return []


def _wait(child: subprocess.Popen[bytes], folder: Path) -> None:
    """Let no dead child linger, and keep how it ended."""
    code = child.wait()
    with suppress(OSError):  # the folder was tidied away meanwhile
        write_json(folder / _ENDED, {"code": code})
    _WAITING.pop(folder, None)


def _held(lock: Path) -> bool:
    """Whether a process holds a lock; one that only looks holds it for less than a moment."""
    if not lock.exists():
        return False
    try:
        with FileLock(lock, timeout=0.02, mode=0o600).acquire(poll_interval=0.005):
            return False
    except Timeout:
        return True
    except OSError:
        return False


def _is_running(home: Path, kind: str) -> bool:
    return _held(home / f"{kind}.lock") or _lives(home / kind)


def _lives(kind: Path) -> bool:
    """Whether the process of a kind's newest work lives."""
    return any(_held(folder / LIVES) for folder in _folders(kind)[:1])


def _folders(kind: Path) -> list[Path]:
    """Folders of a kind's works, the newest first."""
    return sorted((path for path in kind.glob("*-*") if path.is_dir()), reverse=True)


def _forget_old(kind: Path) -> None:
    """Keep the newest results, and nothing of works that came to none."""
    held = _folders(kind)
    kept = [path for path in held if (path / RESULT).is_file()][:KEEP]
    for path in held:
        if path not in kept:
            shutil.rmtree(path, ignore_errors=True)


def _read(folder: Path, running: bool) -> LongWork:
    events = _last_events(folder)
    known: dict[str, Any] = {}
    for event in events:
        known |= event
    started = datetime.strptime(folder.name.rsplit("-", 1)[0], _ID_TIME).replace(tzinfo=UTC)

    def work(state: Any, words: str, result: dict[str, Any] | None = None, problem: str = "") -> LongWork:
        done, total = (known.get("done"), known.get("total")) if state == "running" else (None, None)
        return LongWork(folder.parent.name, folder.name, started, state, words, done, total, result, problem)

    result = _json(folder / RESULT)
    if result is not None:
        return work("done", "finished", result)
    if "failed" in known:
        return work("failed", "failed", problem=known["failed"])
    if (folder / _STOPPED).exists():
        return work("stopped", "stopped")
    if running:
        return work("running", known.get("words", "starting"))
    if folder in _WAITING:
        _WAITING[folder].join(1.0)
    return work("failed", "failed", problem=_how_it_ended(folder))


def _last_events(folder: Path) -> list[dict[str, Any]]:
    """The last few things that a work said; a line cut short by a kill is passed over."""
    try:
        lines = (folder / EVENTS).read_text("utf-8", "replace").splitlines()
    except OSError:
        return []
    found = []
    for line in lines[-2:]:
        with suppress(json.JSONDecodeError):
            event = json.loads(line)
            # A step without a count must not keep the count of the step before.
            found.append({"done": None, "total": None, **event} if "words" in event else event)
    return found


def _how_it_ended(folder: Path) -> str:
    """Why a work that said nothing of its end is no more, as far as can be known."""
    code = (_json(folder / _ENDED) or {}).get("code")
    if code is None:
        return "it exited without an error message"
    if code < 0:
        kill = " (often because memory ran out)" if code == -_SIGKILL else ""
        return f"its process was ended by signal {-code}{kill}"
    said: list[str] = []
    with suppress(OSError):
        said = (folder / _OUTPUT).read_text("utf-8", "replace").strip().splitlines()
    return f"failed (exit code {code})" + (f": {said[-1][:300]}" if said else "")


def _json(path: Path) -> dict[str, Any] | None:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, json.JSONDecodeError):
        return None
