"""Reading rule files: strict YAML, the models, and overlays that only add."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any, ClassVar

import yaml
from pydantic import ValidationError

from auditor.rules import models
from auditor.rules.models import Rule, RuleFile
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput
from auditor.vocabulary.yaml_text import Lines, load_yaml_text

_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class _Loader(_Base):  # type: ignore[misc]
    """Plain scalars as JSON has them, plus ISO days; "no", "on", 0123 and 12:30 stay words.

    What strict YAML refuses (keys given twice, aliases, tags) is refused before, by `load_yaml_text`.
    """

    yaml_implicit_resolvers: ClassVar[dict[str, list[tuple[str, re.Pattern[str]]]]] = {}


for _tag, _pattern, _first in (
    ("bool", r"true|false", "tf"),
    ("int", r"[-+]?(?:0|[1-9][0-9]*)", "-+0123456789"),
    ("float", r"[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?:\.[0-9]*)?[eE][-+]?[0-9]+)", "-+.0123456789"),
    ("null", r"null|~|", ["n", "~", ""]),
    ("timestamp", r"[0-9]{4}-[0-9]{2}-[0-9]{2}", "0123456789"),
):
    _Loader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(f"^(?:{_pattern})$"), list(_first))


def shipped_rulesets() -> Path:
    """Folder of the rule files that come with the package."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "rulesets"
    return inside if inside.is_dir() else package.parent / "rulesets"


@dataclass(frozen=True)
class Rulebook:
    """Rule files read and valid. `digests` holds the SHA-256 of each file's bytes, `texts` the bytes as text."""

    files: tuple[RuleFile, ...]
    digests: Mapping[str, str] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)

    def places(self) -> list[str]:
        """Every place that has a rule file, sorted."""
        return sorted({f.place for f in self.files})

    def of(self, place: str) -> list[RuleFile]:
        """Files of one place, in order of their id."""
        return [f for f in self.files if f.place == place]

    def definitions(self, place: str) -> dict[str, dict[str, Any]]:
        """Definitions that hold in a place: those of the United States, replaced by the place's own."""
        found: dict[str, dict[str, Any]] = {}
        for file in (*self.of("US"), *(self.of(place) if place != "US" else ())):
            found |= {k: dict(d.model_extra or {}) for k, d in file.definitions.items()}
        return found

    def days_of_change(self, place: str) -> list[date]:
        """Days on which something in the place's files begins to hold or has ceased to."""
        days: set[date] = set()
        for file in self.of(place):
            dated = [*file.rules]
            entries = [e for limit in file.limits.values() for e in (*limit.versions, *limit.allowances, *limit.caps)]
            for entry in (*dated, *entries):
                if entry.from_ is not None:
                    days.add(entry.from_)
                if entry.until is not None:
                    days.add(date.fromordinal(entry.until.toordinal() + 1))
        return sorted(days)

    def find(self, key: str) -> tuple[RuleFile, Rule] | None:
        """The rule named `place/topic/rule`, or None."""
        return self._index.get(key)

    def get(self, key: str) -> tuple[RuleFile, Rule]:
        """The rule named `place/topic/rule`; raises KeyError when there is none."""
        return self._index[key]

    @cached_property
    def _index(self) -> dict[str, tuple[RuleFile, Rule]]:
        return {f"{f.id}/{r.id}": (f, r) for f in self.files for r in f.rules}

    def keys(self) -> list[str]:
        """Every rule as `place/topic/rule`."""
        return [f"{f.id}/{r.id}" for f in self.files for r in f.rules]


def read_rules(places: Iterable[str] | None = None, overlays: Sequence[Path] = ()) -> Rulebook:
    """Read the shipped rule files of the places named (None: all) and every overlay folder.

    Raises UnusableInput with every problem of every file. An overlay may not bring a rule file whose id is taken.
    """
    wanted = None if places is None else {"US", *places}
    root = shipped_rulesets()
    paths = [
        (p, p.relative_to(root.parent))
        for p in sorted(root.glob("*/*.yaml"))
        if wanted is None or p.parent.name.upper() in wanted
    ]
    problems: list[Problem] = []
    for overlay in overlays:
        found = sorted(p for p in overlay.rglob("*.yaml") if p.is_file())
        if not found:
            problems.append(
                Problem(str(overlay), "", "", "no rule file", "a folder that holds rule files", "Name another folder.")
            )
        paths += [(p, p.relative_to(overlay.parent)) for p in found]
    return _read(paths, problems)


def rulebook_from_texts(texts: Mapping[str, str], digests: Mapping[str, str]) -> Rulebook:
    """The rule files whose texts a report kept; `digests` holds the SHA-256 that the report gives for each id.

    Raises UnusableInput with every text that is missing, altered, unreadable or under another id than its own.
    """
    problems: list[Problem] = []
    todo = "Use the report as it was first written."
    found = [(id_, text.encode("utf-8")) for id_, text in texts.items()]
    for id_, data in found:
        made = hashlib.sha256(data).hexdigest()
        if made != digests.get(id_):
            expected = f"one with the SHA-256 {digests.get(id_) or 'of the report'}"
            problems.append(Problem(id_, "", "text", f"a rule text with the SHA-256 {made}", expected, todo))
    rulebook = _parsed(((data, id_) for id_, data in found), problems)
    strays = [id_ for id_ in texts if id_ not in rulebook.texts]
    problems += [Problem(id_, "", "id", "a rule text of another id", id_, todo) for id_ in strays if not problems]
    if problems:
        raise UnusableInput(problems)
    return rulebook


def _read(paths: Sequence[tuple[Path, Path]], problems: list[Problem]) -> Rulebook:
    rulebook = _parsed(((path.read_bytes(), shown.as_posix()) for path, shown in paths), problems)
    if problems:
        raise UnusableInput(problems)
    return rulebook


def _parsed(found: Iterable[tuple[bytes, str]], problems: list[Problem]) -> Rulebook:
    """The rule files among bytes that go by a name; what is wrong with the others is added to `problems`."""
    files: dict[str, RuleFile] = {}
    digests: dict[str, str] = {}
    texts: dict[str, str] = {}
    defined: dict[str, set[str]] = {}
    for data, shown in found:
        file = parse_rule_file(data, shown, problems)
        if file is None:
            continue
        if file.id in files:
            problems.append(
                Problem(shown, "", "id", file.id, "an id no other file has", "Overlays only add: rename it.")
            )
            continue
        for name in sorted(set(file.definitions) & defined.get(file.place, set())):
            todo = "Overlays only add: take it out."
            problems.append(Problem(shown, "", f"definitions.{name}", f"a second {name} for {file.place}", "one", todo))
        defined.setdefault(file.place, set()).update(file.definitions)
        files[file.id] = file
        digests[file.id] = hashlib.sha256(data).hexdigest()
        texts[file.id] = data.decode("utf-8")
    ordered = sorted(files)
    return Rulebook(tuple(files[i] for i in ordered), {i: digests[i] for i in ordered}, {i: texts[i] for i in ordered})


def parse_rule_file(data: bytes, shown: str, problems: list[Problem]) -> RuleFile | None:
    """Read one rule file from bytes; on failure add to `problems` and give None."""
    try:
        _, lines = load_yaml_text(data, shown)
        body = yaml.load(data.decode("utf-8-sig"), Loader=_Loader)
    except UnusableInput as error:
        problems += error.problems
        return None
    except (yaml.YAMLError, ValueError) as error:
        problems.append(Problem(shown, "", "", str(error), "a YAML rule file", "Mend the file."))
        return None
    try:
        return RuleFile.model_validate(body)
    except ValidationError as error:
        problems += [_refused(item, shown, lines) for item in error.errors(include_url=False)]
        return None


def _refused(item: Any, shown: str, lines: Lines) -> Problem:
    """What the models say of one value, in the words of the other messages."""
    loc = item["loc"]
    where, name = f"line {lines.at(*loc)}", ".".join(str(p) for p in loc)
    todo = "See `auditor schema rules`."
    if item["type"] == "extra_forbidden":
        near = nearest(str(loc[-1]), _words())
        todo = f"Did you mean {' or '.join(near)}? {todo}" if near else todo
        return Problem(shown, where, name, f'the field "{loc[-1]}"', "only fields that rule files have here", todo)
    if item["type"] == "missing":
        return Problem(shown, where, name, "nothing", f'the field "{loc[-1]}"', todo)
    expected = item["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    return Problem(shown, where, name, _shown(item.get("input")), expected, todo)


def _words() -> list[str]:
    """Every field name of the models."""
    kinds = [kind for kind in vars(models).values() if isinstance(kind, type) and issubclass(kind, models.Strict)]
    return sorted({field.alias or name for kind in kinds for name, field in kind.model_fields.items()})


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
