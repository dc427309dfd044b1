"""The published Bot API as facts (bot-api.json), and the check of calls, answers and updates against it."""

import functools
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Json = dict[str, Any]

# What the real service answers where a client's author is likely to look it up; everything else gets a plain sentence.
_WHEN_TOO_LONG = {"text": "message is too long", "caption": "message caption is too long"}
_WHEN_MISSING = {"text": "message text is empty", "chat_id": "chat_id is empty"}


class ApiError(Exception):
    """A refusal as the Bot API words it: the HTTP status, a description, and sometimes parameters."""

    def __init__(self, status: int, description: str, **parameters: int) -> None:
        super().__init__(f"{status} {description}")
        self.status = status
        self.description = description
        self.parameters = parameters


def bad_request(why: str, **parameters: int) -> ApiError:
    """A refusal with status 400."""
    return ApiError(400, f"Bad Request: {why}", **parameters)


class _MismatchError(Exception):
    """A value that isn't of the published type; its text says where and why."""


@dataclass(frozen=True)
class Field:
    """One published field: its alternative types, whether it must be there, and how long it may be."""

    name: str
    required: bool
    types: tuple[str, ...]
    shortest: int = 0
    longest: int | None = None
    in_bytes: bool = False


@dataclass(frozen=True)
class Method:
    """One published method: the fields it takes and the types it may return."""

    fields: Mapping[str, Field]
    returns: tuple[str, ...]


class Schema:
    """Methods and types of one Bot API version, with the checks that make the server strict."""

    def __init__(self, facts: Json) -> None:
        self.version: str = facts["version"]
        self.methods = {
            name: Method(_fields(fields), tuple(returns)) for name, (fields, returns) in facts["methods"].items()
        }
        self._subtypes: dict[str, list[str]] = {n: t for n, t in facts["types"].items() if isinstance(t, list)}
        self._objects = {n: _fields(t) for n, t in facts["types"].items() if isinstance(t, dict)}

    def read_call(self, method: str, sent: Mapping[str, Any], files: Mapping[str, Any]) -> Json:
        """The call's parameters decoded and checked.

        `sent` holds form strings or the values of a JSON body; `files` the uploaded parts by name.
        Raises ApiError 404 for an unknown method, 400 for anything that the published schema doesn't allow.
        """
        if method not in self.methods:
            raise ApiError(404, "Not Found: method not found")
        fields = self.methods[method].fields
        given: Json = {}
        for name, raw in sent.items():
            if name not in fields:
                raise bad_request(f"{method} has no parameter {name!r} in {self.version}")
            given[name] = _decode(fields[name], raw)
        for name in files:
            if name in fields and "InputFile" in fields[name].types:
                given.setdefault(name, f"attach://{name}")
            elif not any(f"attach://{name}" in str(value) for value in sent.values()):
                raise bad_request(f"{method} got a file part {name!r} that nothing refers to")
        for field in fields.values():
            if field.required and given.get(field.name) in (None, ""):
                raise bad_request(_WHEN_MISSING.get(field.name, f"parameter {field.name!r} is required"))
        try:
            for name, value in given.items():
                self._check_field(fields[name], value, name)
        except _MismatchError as wrong:
            raise bad_request(str(wrong)) from wrong
        return given

    def check_answer(self, method: str, result: object) -> None:
        """Holds the server to the schema too: an answer of a wrong shape is this server's fault (AssertionError)."""
        self._hold(self.methods[method].returns, result, method)

    def check_object(self, type_name: str, value: object) -> None:
        """The same for an object that the server sends of itself, such as an Update."""
        self._hold((type_name,), value, type_name)

    def _hold(self, types: tuple[str, ...], value: object, path: str) -> None:
        try:
            self._check(types, value, path)
        except _MismatchError as wrong:
            raise AssertionError(f"the test server would send something that isn't {self.version}: {wrong}") from wrong

    def _check_field(self, field: Field, value: object, path: str) -> None:
        self._check(field.types, value, path)
        if isinstance(value, str):
            length = len(value.encode()) if field.in_bytes else len(value)
            if length < field.shortest:
                raise _MismatchError(_WHEN_MISSING.get(path, f"{path} is too short"))
            if field.longest is not None and length > field.longest:
                if field.name == "callback_data":
                    raise _MismatchError("BUTTON_DATA_INVALID")
                raise _MismatchError(_WHEN_TOO_LONG.get(path, f"{path} is longer than {field.longest}"))

    def _check(self, types: tuple[str, ...], value: object, path: str) -> None:
        whys = []
        for type_name in types:
            try:
                self._check_one(type_name, value, path)
            except _MismatchError as wrong:
                whys.append(str(wrong))
            else:
                return
        raise _MismatchError(min(whys, key=len) if len(whys) == 1 or len(set(whys)) == 1 else " or ".join(whys))

    def _check_one(self, type_name: str, value: object, path: str) -> None:
        if type_name.startswith("Array of "):
            if not isinstance(value, list):
                raise _MismatchError(f"{path} must be an array")
            for place, item in enumerate(value):
                self._check_one(type_name.removeprefix("Array of "), item, f"{path}[{place}]")
        elif type_name in self._subtypes:
            self._check(tuple(self._subtypes[type_name]), value, path)
        elif type_name == "InputFile":
            if not (isinstance(value, str) and value.startswith("attach://")):
                raise _MismatchError(f"{path} must be an uploaded file")
        elif type_name in self._objects:
            self._check_fields(type_name, value, path)
        elif not _is_plain(type_name, value):
            raise _MismatchError(f"{path} must be {type_name}, not {value!r}"[:200])

    def _check_fields(self, type_name: str, value: object, path: str) -> None:
        if not isinstance(value, dict):
            raise _MismatchError(f"{path} must be an object ({type_name})")
        fields = self._objects[type_name]
        for name in value:
            if name not in fields:
                raise _MismatchError(f"{path}: {type_name} has no field {name!r}")
        for field in fields.values():
            if field.name in value:
                self._check_field(field, value[field.name], f"{path}.{field.name}")
            elif field.required:
                raise _MismatchError(f"{path}: {type_name} needs {field.name!r}")


def _is_plain(type_name: str, value: object) -> bool:
    match type_name:
        case "Integer":
            return isinstance(value, int) and not isinstance(value, bool)
        case "Float":
            return isinstance(value, int | float) and not isinstance(value, bool)
        case "Boolean":
            return isinstance(value, bool)
        case "String":
            return isinstance(value, str)
    return False


def _decode(field: Field, raw: object) -> object:
    """A form's string as the value it stands for; values of a JSON body pass unchanged."""
    if not isinstance(raw, str) or field.types == ("String",):
        return raw
    if any(kind in field.types for kind in ("Integer", "Float")):
        try:
            return int(raw) if "Integer" in field.types else float(raw)
        except ValueError:
            return raw  # a "@name" where a string is allowed too; else the check says what is wrong
    if "Boolean" in field.types:
        return {"true": True, "false": False}.get(raw.lower(), raw)
    if "String" in field.types or "InputFile" in field.types:
        return raw
    try:
        return json.loads(raw)
    except ValueError:
        raise bad_request(f"can't parse {field.name} JSON object") from None


def _fields(described: Mapping[str, str]) -> dict[str, Field]:
    return {field.name: field for field in (_field(name, text) for name, text in described.items())}


def _field(name: str, text: str) -> Field:
    """Reads `"text*": "String 1..4096 characters"`."""
    types, _, limit = text.partition(" ") if ".." in text else (text, "", "")
    if not limit:
        return Field(name.rstrip("*"), name.endswith("*"), tuple(types.split("|")))
    span, _, unit = limit.partition(" ")
    shortest, _, longest = span.partition("..")
    return Field(
        name.rstrip("*"),
        name.endswith("*"),
        tuple(types.split("|")),
        int(shortest),
        int(longest),
        unit == "bytes",
    )


@functools.cache
def published() -> Schema:
    """The schema that lies beside this file."""
    return Schema(json.loads((Path(__file__).parent / "bot-api.json").read_text()))
