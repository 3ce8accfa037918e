"""Check what a person typed into a sheet against a data model and say in plain words what is wrong.

The data model library reports errors for programmers; this turns them into our one-sentence form.
"""

from __future__ import annotations

import difflib
import reprlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from clampwright.errors import InputError
from clampwright.quantities.fields import ERROR_TYPE, QuantityField
from clampwright.quantities.writing import write

MOST_LINES = 5
"""Problems shown at once; a longer list is not read."""

_SHAPES = {
    "model_type": "a section with named fields",
    "model_attributes_type": "a section with named fields",
    "dict_type": "a section with named fields",
    "tuple_type": "a list",
    "list_type": "a list",
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
}
"""Pydantic's types of error that speak of programming → what a person should write."""

ModelT = TypeVar("ModelT", bound=BaseModel)


def validated(model: type[ModelT], data: Mapping[str, Any], where: str) -> ModelT:
    """The data of a text sheet as a model; bare numbers are refused where a unit belongs.

    where : name of the file, for the message

    Raises InputError that lists every problem, one sentence each.
    """
    try:
        return model.model_validate(data, context={"sheet": where})
    except ValidationError as error:
        raise explain(error, where, model) from None


def explain(error: ValidationError, where: str, model: type[BaseModel] | None = None) -> InputError:
    """Pydantic's errors as one InputError: one sentence a line, at most `MOST_LINES`.

    where : name of the file; the dotted path of the field follows it, list items counted from 1
    model : the model that was being filled; with it a misspelt field gets "did you mean"
    """
    problems = _merged(_problem(details, model) for details in error.errors())
    complaints = [
        InputError(
            problem.wrong,
            where=", ".join(filter(None, (where, problem.path))),
            expected=" or ".join(problem.expected),
            mend=problem.mend,
        )
        for problem in problems
    ]
    if len(complaints) == 1:
        return complaints[0]
    lines = [str(complaint) for complaint in complaints[:MOST_LINES]]
    hidden = len(complaints) - MOST_LINES
    if hidden > 0:
        lines.append(f"{where}: {hidden} more problem{'s follow' if hidden > 1 else ' follows'}")
    return InputError("\n".join(lines))


@dataclass(frozen=True)
class _Problem:
    path: str
    wrong: str
    expected: tuple[str, ...] = ()
    mend: str = ""
    is_quantity: bool = False


def _merged(problems: Iterable[_Problem]) -> list[_Problem]:
    """One problem a field: where several readings were tried, every one of them was expected."""
    fields: dict[str, _Problem] = {}
    for problem in problems:
        first = fields.get(problem.path)
        if first is None:
            fields[problem.path] = problem
            continue
        best = problem if problem.is_quantity and not first.is_quantity else first
        expected = tuple(dict.fromkeys((*first.expected, *problem.expected)))
        fields[problem.path] = _Problem(
            best.path, best.wrong, expected, best.mend, best.is_quantity
        )
    return list(fields.values())


def _problem(details: ErrorDetails, model: type[BaseModel] | None) -> _Problem:
    path, siblings, quantity = _located(details, model)
    context = details.get("ctx", {})
    match details["type"]:
        case "missing":
            expected = (quantity.kind.expected,) if quantity else ()
            return _Problem(path, "the field is missing", expected)
        case "extra_forbidden":
            return _unknown_field(path, str(details["loc"][-1]), siblings)
        case t if t == ERROR_TYPE:
            expected = (context["expected"],)
            return _Problem(path, context["wrong"], expected, context["mend"], is_quantity=True)
        case "value_error":
            return _Problem(path, str(context["error"]))
        case "union_tag_invalid" | "union_tag_not_found":
            return _unknown_kind(path, details["type"], context)
    got, wanted = reprlib.repr(details["input"]), _wanted(details)
    if quantity and wanted.startswith("a number "):
        written = details["input"]
        got = write(written, quantity.dimension) if isinstance(written, float) else f"{written}"
        bound = f"{wanted.removeprefix('a number ')} {quantity.kind.unit}".rstrip()
        examples = quantity.kind.expected.partition(" such as ")[2]
        wanted = f"{quantity.kind.words} {bound}, such as {examples}"
    return _Problem(path, f"{got} cannot be used", (wanted,))


def _wanted(details: ErrorDetails) -> str:
    """What one of pydantic's own checks asked for, in words of the sheet."""
    if details["type"] in _SHAPES:
        return _SHAPES[details["type"]]
    chosen = details.get("ctx", {}).get("expected")
    words = str(chosen or details["msg"].removeprefix("Input should be "))
    if words.startswith(("greater", "less")):
        words = f"a number {words}"
    return words.replace("'", '"')


def _unknown_field(path: str, name: str, siblings: Sequence[str]) -> _Problem:
    close = difflib.get_close_matches(name, siblings, n=1)
    mend = f'did you mean "{close[0]}"' if close else ""
    expected = () if close or not siblings else (f"one of {', '.join(siblings)}",)
    return _Problem(path, f'there is no field "{name}" here', expected, mend)


def _unknown_kind(path: str, problem: str, context: Mapping[str, Any]) -> _Problem:
    """A table whose kind decides its fields, and which has no kind or one that is unknown."""
    field = str(context["discriminator"]).strip("'")
    if problem == "union_tag_not_found":
        return _Problem(f"{path}.{field}", "the field is missing")
    known = str(context["expected_tags"]).replace("'", "").split(", ")
    tag = str(context["tag"])
    close = difflib.get_close_matches(tag, known, n=1)
    mend = f'did you mean "{close[0]}"' if close else ""
    expected = "one of " + ", ".join(f'"{name}"' for name in known)
    return _Problem(f"{path}.{field}", f'there is no {field} "{tag}"', (expected,), mend)


def _located(
    details: ErrorDetails, model: type[BaseModel] | None
) -> tuple[str, list[str], QuantityField | None]:
    """Dotted path of an error, names of the fields beside it, and the quantity expected there.

    Pydantic puts the names of the branches of a union into the path; those are no fields and are
    left out.
    """
    kinds: list[Any] = [model] if model else []
    names: list[str] = []
    siblings: list[str] = []
    for part in details["loc"]:
        siblings = [name for kind in _models(kinds) for name in kind.model_fields]
        if isinstance(part, int):
            names.append(str(part + 1))
            kinds = [argument for kind in kinds for argument in _members(kind)]
        elif any(get_origin(kind) is dict for kind in kinds):
            names.append(part)
            kinds = [argument for kind in kinds for argument in _members(kind)]
        elif part in siblings:
            names.append(part)
            kinds = [k for kind in _models(kinds) for k in _field_kinds(kind, part)]
        elif details["type"] == "extra_forbidden" or (model is None and part.isidentifier()):
            names.append(part)
    quantity = next((kind for kind in kinds if isinstance(kind, QuantityField)), None)
    return ".".join(names), siblings, quantity


def _models(kinds: Iterable[Any]) -> list[type[BaseModel]]:
    return [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]


def _field_kinds(model: type[BaseModel], name: str) -> Iterator[Any]:
    field = model.model_fields.get(name)
    if field is not None:
        yield from field.metadata
        yield from _flat(field.annotation)


def _flat(annotation: Any) -> Iterator[Any]:
    """A type, or every type of a union, with the annotations of each."""
    origin = get_origin(annotation)
    if origin in (Union, UnionType):
        for argument in get_args(annotation):
            yield from _flat(argument)
    elif origin is Annotated:
        yield from annotation.__metadata__
        yield from _flat(get_args(annotation)[0])
    else:
        yield annotation


def _members(kind: Any) -> Iterator[Any]:
    """What a tuple, list or mapping holds."""
    for argument in get_args(kind):
        yield from _flat(argument)
