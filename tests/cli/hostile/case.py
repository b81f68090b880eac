"""One hostile command: what it is given, what it must answer, and the sound files that lie beside it."""

from __future__ import annotations

import os
import shlex
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from triage.shipped import shipped

Content = str | bytes | Callable[[Path], object]

UNIT = """\
[device]
name = "Grey handset"
tier = "upper"
[[finding]]
kind = "frame-bent"
"""
LOT = "unit,tier,ask,findings\nA1,upper,40,frame-bent\nA2,middle,9.50,cell-worn/2/8 in 20\n"
JOBS = "\n".join(shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()[:9]) + "\n"
SETTINGS = shipped("models/shop/demo-settings.toml").read_text(encoding="utf-8")
PRICES = shipped("models/shop/demo-prices.toml").read_text(encoding="utf-8")
SOUND: dict[str, Content] = {"unit.toml": UNIT, "lot.csv": LOT, "jobs.csv": JOBS}


@dataclass(frozen=True)
class Case:
    """A command in a folder of the SOUND files and its own.

    line : the command line as it is typed. says : what stands in the message, one blank for any run of them.
    files : by name, a file's text or bytes, or what makes it. code : exit code. not_said : what stays unsaid.
    """

    line: str
    says: tuple[str, ...]
    files: dict[str, Content] = field(default_factory=dict)
    code: int = 2
    environment: dict[str, str] = field(default_factory=dict)
    stdin: bytes | None = None
    not_said: tuple[str, ...] = ()

    @property
    def arguments(self) -> list[str]:
        return shlex.split(self.line)


def lay_out(folder: Path, files: dict[str, Content]) -> None:
    """Write the files of a case."""
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if callable(content):
            content(path)
        elif isinstance(content, bytes):
            path.write_bytes(content)
        else:
            path.write_text(content, encoding="utf-8", newline="")


def state(folder: Path) -> dict[str, object]:
    """Everything below a folder: bytes of files, targets of links, names of the rest."""

    def told(path: Path) -> object:
        if path.is_symlink():
            return os.readlink(path)
        return path.read_bytes() if path.is_file() else path.stat().st_mode

    return {str(path): told(path) for path in sorted(folder.rglob("*"))}


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """A sound text with something put in the place of something else."""
    for before, after in pairs:
        assert before in text, before
        text = text.replace(before, after)
    return text


def folder(path: Path) -> None:
    path.mkdir()


def fifo(path: Path) -> None:
    os.mkfifo(path)


def circle(path: Path) -> None:
    """A link to itself."""
    path.symlink_to(path.name)


def link(target: str) -> Callable[[Path], object]:
    return lambda path: path.symlink_to(target)
