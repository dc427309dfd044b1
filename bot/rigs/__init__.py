"""Rig files as files: finding them, reading them, and the demonstration rig that stands in when none is named."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path

import msgspec

from bot.errors import FileProblem
from handlers.errors import RigFileError
from handlers.rig import Rig
from handlers.rigfile.doubts import doubts
from handlers.rigfile.parse import parse_rig

DEMONSTRATION = "alder_bay_engine_12.toml"
BYTE_ORDER_MARKS = (b"\xff\xfe", b"\xfe\xff")
"""Of UTF-16, as some editors save; that of UTF-8 is dropped by its codec."""


def unit_of(rig: Rig) -> str:
    """The key of a rig's company: "engine 12"."""
    return rig.name.casefold()


class Rigs:
    """The rigs this program knows: its own first; the others are found by their unit."""

    def __init__(self, rigs: list[Rig], files: Sequence[Path] = ()) -> None:
        """`files`: where each was read from."""
        self._rigs = {unit_of(rig): rig for rig in reversed(rigs)}
        self._files = {unit_of(rig): file for rig, file in zip(reversed(rigs), reversed(files), strict=False)}
        self.own = rigs[0]
        self.own_unit = unit_of(self.own)
        self._borrowed = _borrowed(self.own)

    def of(self, unit: str) -> Rig:
        """The rig of a company; for one whose file isn't known the book's hose and nozzles, and none of our lines."""
        return self._rigs.get(unit.casefold(), self.own if not unit else self._borrowed)

    def file_of(self, unit: str) -> Path | None:
        """The file of a company's rig; None for one that has none of its own (the demonstration rig)."""
        return self._files.get(unit.casefold())

    def read_again(self, unit: str) -> None:
        """Its file has changed. Raises FileProblem."""
        if (file := self.file_of(unit)) is not None:
            rig = self._rigs[unit.casefold()] = parse(text_of(file), str(file))
            self.own = rig if unit.casefold() == self.own_unit else self.own

    @property
    def units(self) -> tuple[str, ...]:
        """All companies with a rig file."""
        return tuple(self._rigs)


def _borrowed(own: Rig) -> Rig:
    """What stands in for an unknown company's file: nothing of ours but what isn't its own (intervals, air, rooms)."""
    bare = 'name = "stand-in"\ndepartment = "none"\n[tank]\ncapacity_gal = 1\n[pump]\nrated_gpm = 1'
    book = parse_rig(bare, files(__package__).joinpath("book.toml").read_text("utf-8"))
    return msgspec.structs.replace(
        own, hose=book.hose, nozzle=book.nozzle, hydraulics=book.hydraulics, line={}, borrowed=True
    )


def load(path: str | Path = "") -> Rigs:
    """The rig of a file, or all rigs of a folder (the first by name is the own one); "" = the demonstration rig.

    Raises:
        FileProblem: it isn't there or can't be read, or the rig file is wrong (with its line and key).
    """
    if not path:
        return Rigs([parse(files(__package__).joinpath(DEMONSTRATION).read_text("utf-8"), DEMONSTRATION)])
    named = Path(path).expanduser()
    found = sorted(named.glob("*.toml")) if named.is_dir() else [named]
    if not found:
        raise FileProblem(named, "there is no rig file (*.toml) in this folder.")
    known = Rigs([parse(text_of(file), str(file)) for file in found], found)
    _tell(tuple(f"{file}: {doubt}" for file in found for doubt in doubts_in(file)))
    return known


def doubts_in(path: str | Path) -> tuple[str, ...]:
    """What can hardly be meant in a rig file that can be read, each with its line and key. Raises FileProblem."""
    text = text_of(Path(path).expanduser())
    found = doubts(parse(text, str(path)), text, _book())
    return tuple(doubt.message for doubt in found)


@cache
def _tell(warnings: tuple[str, ...]) -> None:
    """Warnings go to the screen's other stream, once."""
    for warning in warnings:
        print(f"Check the rig file: {warning}", file=sys.stderr)


@cache
def _book() -> str:
    """The text of the book's values."""
    return files(__package__).joinpath("book.toml").read_text("utf-8")


def text_of(path: Path) -> str:
    """A rig file's text. Raises FileProblem."""
    try:
        data = path.read_bytes()
        return data.decode("utf-16" if data[:2] in BYTE_ORDER_MARKS else "utf-8-sig")
    except FileNotFoundError:
        raise FileProblem(path, "there is no such rig file.") from None
    except UnicodeDecodeError:
        raise FileProblem(path, "the rig file isn't UTF-8 text; save it as UTF-8.") from None
    except OSError as error:
        raise FileProblem(path, f"the rig file can't be read ({error.strerror}).") from None


def parse(text: str, name: str) -> Rig:
    """The rig of a file's text; `name` is told with what is wrong. Raises FileProblem."""
    try:
        rig = parse_rig(text, _book())
    except RigFileError as error:
        raise FileProblem(name, error.message) from None
    if rig.slang:
        _check_slang(rig, name)
    return rig


def _check_slang(rig: Rig, name: str) -> None:
    """The department's own words may not take a word that means something already."""
    from grammar.vocabulary import SlangError, check_slang

    try:
        check_slang(rig.slang.items())
    except SlangError as clash:
        raise FileProblem(name, f"slang: {clash}") from None
