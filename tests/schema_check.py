"""Check a JSON document against a JSON schema, for the keywords our schemas use and no others.

An unknown keyword is an error, so that nothing goes unchecked in silence. Meaning of the keywords:
JSON Schema, draft 2020-12.
"""

from __future__ import annotations

from typing import Any

TYPES = {
    "object": dict,
    "array": list,
    "string": str,
    "boolean": bool,
    "null": type(None),
    "number": (int, float),
    "integer": int,
}
WORDS = {"title", "description", "default", "examples", "$defs", "format", "propertyNames"}
LIMITS = {"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum", "minLength", "maxLength"}
LIMITS |= {"pattern", "minItems", "maxItems"}


def problems(value: Any, schema: dict[str, Any], root: dict[str, Any], path: str = "") -> list[str]:
    """Every place where `value` does not follow `schema`."""
    if "type" in schema and (wrong := _type(value, schema["type"], schema, root, path)):
        return wrong  # the other keywords are for values of that type
    found: list[str] = []
    for keyword, rule in schema.items():
        if keyword in WORDS | LIMITS:
            continue
        found += KEYWORDS[keyword](value, rule, schema, root, path)
    return found


def _reference(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    return problems(value, root["$defs"][rule.removeprefix("#/$defs/")], root, path)


def _type(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    wrong_bool = isinstance(value, bool) and rule != "boolean"
    right = isinstance(value, TYPES[rule]) and not wrong_bool
    return [] if right else [f"{path}: {value!r:.60} is not {rule}"]


def _properties(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    inside = value if isinstance(value, dict) else {}
    return [
        p for k, v in inside.items() if k in rule for p in problems(v, rule[k], root, f"{path}.{k}")
    ]


def _required(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    return [f"{path}: {name} is missing" for name in rule if name not in value]


def _additional(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    others = {k: v for k, v in value.items() if k not in schema.get("properties", {})}
    if isinstance(rule, bool):
        return [f"{path}: {name} is not allowed" for name in others if not rule]
    return [p for k, v in others.items() for p in problems(v, rule, root, f"{path}.{k}")]


def _any(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    tries = [problems(value, branch, root, path) for branch in rule]
    return [] if not all(tries) else min(tries, key=len)


def _items(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    return [p for i, v in enumerate(value) for p in problems(v, rule, root, f"{path}.{i}")]


def _each_of(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    if len(value) != len(rule):
        return [f"{path}: {len(value)} items instead of {len(rule)}"]
    pairs = enumerate(zip(value, rule, strict=True))
    return [p for i, (v, one) in pairs for p in problems(v, one, root, f"{path}.{i}")]


def _enum(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    return [] if value in rule else [f"{path}: {value!r:.60} is none of {rule}"]


def _const(value: Any, rule: Any, schema: Any, root: Any, path: str) -> list[str]:
    return [] if value == rule else [f"{path}: {value!r:.60} is not {rule!r}"]


KEYWORDS = {
    "$ref": _reference,
    "type": _type,
    "properties": _properties,
    "required": _required,
    "additionalProperties": _additional,
    "anyOf": _any,
    "items": _items,
    "prefixItems": _each_of,
    "enum": _enum,
    "const": _const,
}
