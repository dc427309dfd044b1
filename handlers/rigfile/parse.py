"""The rig file: TOML text to a `Rig`, with errors that name the line and the key.

A department's file is laid over the book's values (`book`), key by key, so that it holds only what differs. Each table
may have a `source`: one sentence for the table, or a sentence a key.
"""

import difflib
import re
import tomllib
from collections.abc import Iterator
from typing import Any, TypeVar

import msgspec

from handlers.errors import RigFileError
from handlers.rig import CarriedFitting, CheckItem, End, Hose, HoseKind, Line, RatedPump, Rig, RigNozzle, Seat, Tank
from handlers.rigfile import sections
from handlers.rigfile.lines import key_lines, line_of
from handlers.rigfile.metric import to_us

T = TypeVar("T", bound=sections.Struct)
Table = dict[str, Any]

TABLES: dict[str, type[sections.Struct]] = {
    "tank": Tank,
    "pump": RatedPump,
    "hydraulics": sections.Hydraulics,
    "standpipe": sections.Standpipe,
    "limits": sections.Limits,
    "hydrant": sections.HydrantSection,
    "rural": sections.Rural,
    "drafting": sections.Drafting,
    "fire_flow": sections.FireFlow,
    "intervals": sections.Intervals,
    "air": sections.Air,
    "oxygen": sections.Oxygen,
    "rehab": sections.RehabSection,
    "care": sections.Care,
}
FAMILIES: dict[str, type[sections.Struct]] = {"hose_kind": HoseKind, "hose": Hose, "nozzle": RigNozzle, "line": Line}
KEYED = frozenset({"hose", "nozzle", "line"})
LISTS: dict[str, type[sections.Struct]] = {"crew": Seat, "readiness": CheckItem}
WORDS = ("name", "department", "call_name", "units", "pressure_unit", "spoken_pressures", "demonstration")
LEAST, MOST = 1e-9, 1e12
"""No value of a rig is smaller or greater, whatever its unit."""
OPTIONAL_FILES = ("rooms", "slang", "fittings")


def parse_rig(text: str, book: str) -> Rig:
    """The rig of a file's text, laid over the text of the book's values. Raises RigFileError."""
    lines = key_lines(text)
    try:
        return _build(_read(text), _read(book))
    except RigFileError as error:
        if error.line is not None or not error.key:
            raise
        raise RigFileError(error.problem, key=error.key, line=line_of(lines, error.key)) from None


def _read(text: str) -> Table:
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise RigFileError("this isn't a rig file: lists or tables lie too deep in each other.") from None
    except ValueError as error:
        line = re.search(r"line (\d+)", str(error))
        what = re.sub(r"\s*\(at .*\)$", "", str(error))
        number = int(line[1]) if line else len(text.splitlines())
        raise RigFileError(f"this isn't valid TOML ({what[:1].lower()}{what[1:]}).", line=number) from None


def _build(own: Table, book: Table) -> Rig:
    known = {*TABLES, *FAMILIES, *LISTS, *WORDS, *OPTIONAL_FILES}
    for key in own:
        if key not in known:
            raise RigFileError(f"there is no such table or key{_nearest(key, known)}", key=key)
    sources: dict[str, str] = {}
    values: Table = {}
    for name, kind in TABLES.items():
        values[name] = _table(name, kind, book.get(name, {}), own.get(name, {}), sources)
    for name, kind in FAMILIES.items():
        values[name] = _family(name, kind, book.get(name, {}), own.get(name, {}), sources)
    for name, kind in LISTS.items():
        values[name] = tuple(_convert(path, kind, row) for path, row in _rows(name, own))
    values["fittings"] = tuple(_fitting(path, row) for path, row in _rows("fittings", own))
    values["rooms"] = {key: str(value) for key, value in _as_table("rooms", own.get("rooms", {})).items()}
    values["slang"] = _slang(_as_table("slang", own.get("slang", {})))
    rig = Rig(**values, **_words(own), sources=sources, stated=frozenset(_stated(values, own)))
    _check(rig)
    return rig


def _stated(values: Table, own: Table) -> Iterator[str]:
    """The paths of the values that the file itself gives, by their US names."""
    for name, kind in TABLES.items():
        yield from (f"{name}.{key}" for key in to_us(_as_table(name, own.get(name, {})), kind, name))
    for name, kind in FAMILIES.items():
        for key, table in _as_table(name, own.get(name, {})).items():
            yield from (f"{name}.{key}.{field}" for field in to_us(_as_table(f"{name}.{key}", table), kind, name))


def _words(own: Table) -> Table:
    units = own.get("units", "us")
    if units not in ("us", "metric"):
        raise RigFileError('write "us" or "metric".', key="units")
    pressure = own.get("pressure_unit", "psi" if units == "us" else "bar")
    if pressure not in ("psi", "bar", "kPa"):
        raise RigFileError('write "psi", "bar" or "kPa".', key="pressure_unit")
    spoken = own.get("spoken_pressures", "digits")
    if spoken not in ("digits", "numbers"):
        raise RigFileError('write "digits" (one one five) or "numbers" (one fifteen).', key="spoken_pressures")
    for key in ("name", "department"):
        if not isinstance(own.get(key), str) or not own[key].strip():
            raise RigFileError("is missing: write it as text in quotes.", key=key)
    return {
        "name": own["name"],
        "department": own["department"],
        "call_name": str(own.get("call_name", "")),
        "units": units,
        "pressure_unit": pressure,
        "spoken_pressures": spoken,
        "demonstration": bool(own.get("demonstration", False)),
    }


def _rows(name: str, own: Table) -> list[tuple[str, Table]]:
    """The tables of an array of tables, each with its path."""
    rows = own.get(name, [])
    if not isinstance(rows, list):
        raise RigFileError(f"write each as a table of its own: [[{name}]].", key=name)
    return [(f"{name}.{number}", _as_table(f"{name}.{number}", row)) for number, row in enumerate(rows)]


def _as_table(path: str, value: object) -> Table:
    if not isinstance(value, dict):
        raise RigFileError("must be a table.", key=path)
    return dict(value)


def _table(path: str, kind: type[T], book: object, own: object, sources: dict[str, str]) -> T:
    """One table: the book's values, the file's over them, sources noted."""
    merged: Table = {}
    for table, origin in ((_as_table(path, book), "the book's value"), (_as_table(path, own), None)):
        source = table.pop("source", None)
        turned = to_us(table, kind, path)
        for key, value in turned.items():
            old = merged.get(key)
            merged[key] = {**old, **value} if isinstance(old, dict) and isinstance(value, dict) else value
        _note_sources(path, kind, source, turned, origin, sources)
    return _convert(path, kind, merged)


def _note_sources(
    path: str, kind: type[T], source: object, table: Table, origin: str | None, sources: dict[str, str]
) -> None:
    for key in table:
        sources.pop(f"{path}.{key}", None)
        if isinstance(source, str):
            sources[f"{path}.{key}"] = source
        elif origin is None:
            sources[f"{path}.{key}"] = "rig file"
    if isinstance(source, dict):
        for key, sentence in source.items():
            fields = {key, *to_us({key: 0}, kind, path)}
            if not fields & set(table):
                raise RigFileError(
                    f"there is no value of that name{_nearest(key, set(table))}", key=f"{path}.source.{key}"
                )
            for field in fields & set(table):
                sources[f"{path}.{field}"] = str(sentence)
    elif source is not None and not isinstance(source, str):
        raise RigFileError(
            "must be a sentence in quotes, or a table with a sentence for each key.", key=f"{path}.source"
        )


def _family(name: str, kind: type[T], book: object, own: object, sources: dict[str, str]) -> dict[str, T]:
    """A table of tables: each hose, nozzle, line by its key."""
    book, own = _as_table(name, book), _as_table(name, own)
    family: dict[str, T] = {}
    for key in {**book, **own}:
        path = f"{name}.{key}"
        extra: Table = {"key": key} if name in KEYED else {}
        if name == "hose":
            extra["own"] = key in own
        table = _as_table(path, own.get(key, {}))
        if name == "line":
            table = _line_pieces(path, table)
        family[key] = _table(path, kind, {**_as_table(path, book.get(key, {})), **extra}, table, sources)
    return family


class _ShortLine(sections.Struct, frozen=True):
    """The keys of a line that is written the short way."""

    hose: str = ""
    length_ft: float = 0.0


def _line_pieces(path: str, table: Table) -> Table:
    """`hose` and `length_ft` are the short way of writing one piece."""
    table = to_us(table, _ShortLine, path)
    if "hose" in table or "length_ft" in table:
        for key in ("hose", "length_ft"):
            if key not in table:
                raise RigFileError(f"a line with {'length_ft' if key == 'hose' else 'hose'} needs {key} too.", key=path)
        table["pieces"] = [{"hose": table.pop("hose"), "length_ft": table.pop("length_ft")}]
    if table.get("kind", "handline") != "gun" and not table.get("pieces"):
        raise RigFileError('needs hose and length_ft, or kind = "gun" for a pre-piped gun.', key=path)
    return table


_END = re.compile(
    r"^([\d./ ¼½¾⅛⅜⅝⅞]+?)\s*(mm|in|inch)?\s+(?:(male|female)\s+)?([a-z].*?)(?:\s+(male|female))?$", re.IGNORECASE
)


def parse_end(text: str) -> End | None:
    """ "2 1/2 male NH" or "5 storz" as an End; None when it can't be read."""
    found = _END.match(text.strip())
    if not found:
        return None
    size = _size_in(found[1])
    gender = (found[3] or found[5] or "").lower() or None
    if size is None:
        return None
    size_in = size / 25.4 if (found[2] or "").lower() == "mm" else size
    return msgspec.convert({"size_in": size_in, "coupling": found[4].strip().casefold(), "gender": gender}, End)


_FRACTIONS = {"¼": 0.25, "½": 0.5, "¾": 0.75, "⅛": 0.125, "⅜": 0.375, "⅝": 0.625, "⅞": 0.875}


def _size_in(text: str) -> float | None:
    total = 0.0
    for mark, value in _FRACTIONS.items():
        if mark in text:
            text, total = text.replace(mark, ""), total + value
    try:
        for part in text.split():
            top, _, bottom = part.partition("/")
            total += float(top) / float(bottom or 1)
    except (ValueError, ZeroDivisionError):
        return None
    return total or None


def _fitting(path: str, table: Table) -> CarriedFitting:
    ends = table.get("ends", [])
    if isinstance(ends, list) and all(isinstance(end, str) for end in ends):
        read = [parse_end(end) for end in ends]
        for text, end in zip(ends, read, strict=True):
            if end is None:
                raise RigFileError(
                    f'can\'t read "{text}": write it like "2.5 male NH" or "5 storz".', key=f"{path}.ends"
                )
        table["ends"] = [msgspec.to_builtins(end) for end in read]
    return _convert(path, CarriedFitting, table)


def _slang(table: Table) -> dict[str, str]:
    for said, means in table.items():
        if not isinstance(means, str) or not means.strip():
            raise RigFileError("write what it means as text in quotes.", key=f"slang.{said}")
    return {str(said).casefold(): str(means) for said, means in table.items()}


def _convert(path: str, kind: type[T], table: Table) -> T:
    for key, value in table.items():
        if not all(map(_is_plain, _numbers(value))):
            raise RigFileError("must be a plain number.", key=f"{path}.{key}")
    try:
        return msgspec.convert(table, kind)
    except msgspec.ValidationError as error:
        what, _, where = str(error).partition(" - at `$")
        inside = where.rstrip("`")
        unknown = re.search(r"unknown field `(.+?)`", what)
        missing = re.search(r"missing required field `(.+?)`", what)
        if unknown:
            names = set(kind.__struct_fields__) - {"key"}
            problem, inside = f"there is no such value here{_nearest(unknown[1], names)}", f"{inside}.{unknown[1]}"
        elif missing:
            problem, inside = "is missing.", f"{inside}.{missing[1]}"
        else:
            problem = _plain(what)
        raise RigFileError(problem, key=f"{path}{inside}") from None


def _numbers(value: object) -> Iterator[float]:
    """Every number in a value."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list | tuple):
        for part in value:
            yield from _numbers(part)
    elif isinstance(value, int | float):
        yield value


def _is_plain(number: float) -> bool:
    """Not endless, and of a size that can be squared and divided by without overflow."""
    return number == 0 or LEAST <= abs(number) <= MOST


def _plain(what: str) -> str:
    """msgspec's words in everyday ones."""
    swaps = (
        (r"Expected `float` > 0\.?0?", "must be a number above 0"),
        (r"Expected `float` >= 0\.?0?", "must be a number, 0 or above"),
        (r"Expected `float` <= 1\.?0?", "must be a share between 0 and 1"),
        (r"Expected `float(?: \| null)?`, got `(\w+)`", r"must be a number, not \1"),
        (r"Expected `int`, got `(\w+)`", r"must be a whole number, not \1"),
        (r"Expected `int` >= (\d+)", r"must be a whole number from \1 up"),
        (r"Expected `str`, got `(\w+)`", r"must be text in quotes, not \1"),
        (r"Expected `str \| null`, got `(\w+)`", r"must be text in quotes, not \1"),
        (r"Expected `bool`, got `(\w+)`", r"must be true or false, not \1"),
        (r"Expected `array`, got `(\w+)`", r"must be a list in [ ], not \1"),
        (r"Invalid enum value (.+)", r"\1 isn't one of the words allowed here"),
    )
    for pattern, words in swaps:
        if re.match(pattern, what):
            return re.sub(pattern + ".*", words, what).replace("`", "") + "."
    return what.replace("`", "") + "."


def _nearest(word: str, known: set[str]) -> str:
    close = difflib.get_close_matches(word, sorted(known), n=1)
    return f"; did you mean {close[0]}?" if close else "."


def _check(rig: Rig) -> None:
    """What one table says of another must hold, and no name may mean two things."""
    for key, hose in rig.hose.items():
        _must_be_known(f"hose.{key}.kind", hose.kind, rig.hose_kind, "hose_kind")
        if hose.nozzle is not None:
            _must_be_known(f"hose.{key}.nozzle", hose.nozzle, rig.nozzle, "nozzle")
    for key, nozzle in rig.nozzle.items():
        wanted = "flow_gpm" if nozzle.kind == "fog" else "tip_in"
        if getattr(nozzle, wanted) is None:
            raise RigFileError(f"a {nozzle.kind} nozzle needs {wanted}.", key=f"nozzle.{key}")
    for key, line in rig.line.items():
        for piece in line.pieces:
            _must_be_known(f"line.{key}.hose", piece.hose, rig.hose, "hose")
        if line.nozzle is not None:
            _must_be_known(f"line.{key}.nozzle", line.nozzle, rig.nozzle, "nozzle")
    for key, kind in rig.hose_kind.items():
        if kind.test_psi < kind.operating_psi:
            raise RigFileError(
                "the test pressure can't be below the operating pressure.", key=f"hose_kind.{key}.test_psi"
            )
    pressures = [point.net_psi for point in rig.pump.points]
    if not pressures or pressures != sorted(set(pressures)):
        raise RigFileError("list the points by rising net_psi.", key="pump.points")
    _check_names(rig)


def _must_be_known(path: str, name: str, family: dict[str, Any], table: str) -> None:
    if name not in family:
        raise RigFileError(f"there is no [{table}.{name}]{_nearest(name, set(family))}", key=path)


def _check_names(rig: Rig) -> None:
    taken: dict[str, str] = {}
    for key, line in rig.line.items():
        for name in dict.fromkeys(n.casefold() for n in (line.name, *line.nicknames)):
            if name in taken:
                raise RigFileError(f"'{name}' already means {taken[name]}.", key=f"line.{key}.nicknames")
            taken[name] = line.name
    for said in rig.slang:
        if said in taken:
            raise RigFileError(f"'{said}' already means {taken[said]}.", key=f"slang.{said}")
