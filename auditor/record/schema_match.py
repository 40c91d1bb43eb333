"""Whether a value fits a schema, told quickly for the few keywords that the schemas of job.yaml use.

A job.yaml without a fault is the usual one. The library that names faults is slow to load and asked only after a no.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

Schema = dict[str, Any]
_Rule = Callable[[Any, Any, Schema, Schema], bool]
"""Value, what the keyword says, the schema it stands in, and the schemas under `$defs`."""

_KINDS: Final = {"object": dict, "array": list, "string": str}
_SAY_NOTHING: Final = frozenset({"$schema", "title", "description", "format", "$defs", "then", "else"})


def fits(value: object, schema: Schema, definitions: Schema) -> bool:
    """Whether a value of nothing but dicts, lists and text fits; `definitions` is what `$ref` may name.

    Raises KeyError for a keyword that is not known here, so that none is passed over.
    """
    return all(
        _RULES[word](value, said, schema, definitions) for word, said in schema.items() if word not in _SAY_NOTHING
    )


def _type(value: Any, said: Any, schema: Schema, definitions: Schema) -> bool:
    # Numbers and yes-or-no do not occur: every scalar is text.
    return any(
        isinstance(value, _KINDS[kind]) for kind in ([said] if isinstance(said, str) else said) if kind in _KINDS
    )


def _properties(value: Any, said: Any, schema: Schema, definitions: Schema) -> bool:
    return not isinstance(value, dict) or all(fits(value[k], s, definitions) for k, s in said.items() if k in value)


def _more(value: Any, said: Any, schema: Schema, definitions: Schema) -> bool:
    if not isinstance(value, dict):
        return True
    others = [inner for key, inner in value.items() if key not in schema.get("properties", {})]
    return all(fits(inner, said, definitions) for inner in others) if isinstance(said, dict) else not others


def _if(value: Any, said: Any, schema: Schema, definitions: Schema) -> bool:
    branch = schema.get("then" if fits(value, said, definitions) else "else", {})
    return fits(value, branch, definitions)


_RULES: Final[dict[str, _Rule]] = {
    "type": _type,
    "properties": _properties,
    "additionalProperties": _more,
    "if": _if,
    "required": lambda v, said, *_: not isinstance(v, dict) or all(key in v for key in said),
    "propertyNames": lambda v, said, _, d: not isinstance(v, dict) or all(fits(key, said, d) for key in v),
    "items": lambda v, said, _, d: not isinstance(v, list) or all(fits(inner, said, d) for inner in v),
    "enum": lambda v, said, *_: v in said,
    "const": lambda v, said, *_: v == said,
    "pattern": lambda v, said, *_: not isinstance(v, str) or re.search(said, v) is not None,
    "minLength": lambda v, said, *_: not isinstance(v, str) or len(v) >= said,
    "minimum": lambda v, said, *_: True,
    "anyOf": lambda v, said, _, d: any(fits(v, branch, d) for branch in said),
    "allOf": lambda v, said, _, d: all(fits(v, branch, d) for branch in said),
    "$ref": lambda v, said, _, d: fits(v, d[said.removeprefix("#/$defs/")], d),
}
