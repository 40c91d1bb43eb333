"""Reading rule files: strict YAML, the models, and overlays that only add."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, ClassVar

import yaml
from pydantic import ValidationError

from auditor.rules.models import Rule, RuleFile
from auditor.vocabulary.problems import Problem, UnusableInput

_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class _Loader(_Base):  # type: ignore[misc]
    """Plain scalars as JSON has them, plus ISO days; "no", "on" and 12:30 stay words. Duplicate keys are refused."""

    yaml_implicit_resolvers: ClassVar[dict[str, list[tuple[str, re.Pattern[str]]]]] = {}

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        """Build a mapping, refusing a key given twice."""
        seen: set[str] = set()
        for key, _ in node.value:
            if key.value in seen:
                raise yaml.constructor.ConstructorError(
                    None, None, f'the key "{key.value}" stands twice', key.start_mark
                )
            seen.add(key.value)
        built: dict[Hashable, Any] = super().construct_mapping(node, deep)
        return built


for _tag, _pattern, _first in (
    ("bool", r"true|false", "tf"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
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


@dataclass(frozen=True, slots=True)
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
        for file in self.files:
            for rule in file.rules:
                if f"{file.id}/{rule.id}" == key:
                    return file, rule
        return None

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


def _read(paths: Sequence[tuple[Path, Path]], problems: list[Problem]) -> Rulebook:
    files: dict[str, RuleFile] = {}
    digests: dict[str, str] = {}
    texts: dict[str, str] = {}
    for path, shown in paths:
        data = path.read_bytes()
        file = parse_rule_file(data, shown.as_posix(), problems)
        if file is None:
            continue
        if file.id in files:
            problems.append(
                Problem(shown.as_posix(), "", "id", file.id, "an id no other file has", "Overlays only add: rename it.")
            )
            continue
        files[file.id] = file
        digests[file.id] = hashlib.sha256(data).hexdigest()
        texts[file.id] = data.decode("utf-8")
    if problems:
        raise UnusableInput(problems)
    ordered = sorted(files)
    return Rulebook(tuple(files[i] for i in ordered), {i: digests[i] for i in ordered}, {i: texts[i] for i in ordered})


def parse_rule_file(data: bytes, shown: str, problems: list[Problem]) -> RuleFile | None:
    """Read one rule file from bytes; on failure add to `problems` and give None."""
    try:
        text = data.decode("utf-8")
        if any(isinstance(e, yaml.AliasEvent) for e in yaml.parse(text, Loader=_Loader)):
            raise yaml.YAMLError("an alias (*name) is not allowed")
        body = yaml.load(text, Loader=_Loader)
    except UnicodeDecodeError:
        problems.append(Problem(shown, "", "", "bytes that are not UTF-8", "UTF-8 text", "Save the file as UTF-8."))
        return None
    except (yaml.YAMLError, ValueError) as error:
        mark = getattr(error, "problem_mark", None)
        where = f"line {mark.line + 1}" if mark is not None else ""
        found = str(getattr(error, "problem", None) or error)
        problems.append(Problem(shown, where, "", found, "a YAML rule file", "Mend the file."))
        return None
    try:
        return RuleFile.model_validate(body)
    except ValidationError as error:
        for item in error.errors():
            name = ".".join(str(p) for p in item["loc"])
            problems.append(
                Problem(shown, "", name, _shown(item.get("input")), item["msg"], "See `auditor schema rules`.")
            )
        return None


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
