"""Reading rule files: strict YAML, the models, and overlays that only add."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from auditor.rules import models
from auditor.rules.confirmations import Found, confirm, files_named
from auditor.rules.models import ConfirmationFile, Definition, Rule, RuleFile
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput
from auditor.vocabulary.yaml_text import Lines, load_yaml_text

_WORDS: dict[str, object] = {"true": True, "false": False, "null": None, "~": None, "": None}
_WHOLE = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_FLOAT = re.compile(r"[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?:\.[0-9]*)?[eE][-+]?[0-9]+)")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def _plain(text: str) -> object:
    """The value of a text without quotation marks: as JSON has it, plus ISO days; "no", "on", 0123 and 12:30 stay words.

    Raises ValueError, with what was expected, for a day that does not exist.
    """
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in "-+.0123456789":
        return text
    if _WHOLE.fullmatch(text):
        return int(text)
    if _FLOAT.fullmatch(text):
        return float(text)
    if not _DAY.fullmatch(text):
        return text
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError("a day that exists") from None


def shipped_rulesets() -> Path:
    """Folder of the rule files that come with the package."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "rulesets"
    return inside if inside.is_dir() else package.parent / "rulesets"


@dataclass(frozen=True)
class Rulebook:
    """Rule files read and valid. `digests` holds the SHA-256 of each file's bytes, `texts` the bytes as text.

    `confirmations` holds the ids of the overlay's files of confirmations, each with the ids of the rule files that it
    speaks of; `files` have them laid over already, while their digests and texts stay those of the files as they are.
    """

    files: tuple[RuleFile, ...]
    digests: Mapping[str, str] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    confirmations: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def places(self) -> list[str]:
        """Every place that has a rule file, sorted."""
        return sorted({f.place for f in self.files})

    def of(self, place: str) -> list[RuleFile]:
        """Files of one place, in order of their id."""
        return [f for f in self.files if f.place == place]

    def definitions(self, place: str) -> dict[str, dict[str, Any]]:
        """What the definitions that hold in a place say: those of the United States, replaced by the place's own."""
        return {name: said.model_extra or {} for name, (_, said) in self.definitions_of(place).items()}

    def definitions_of(self, place: str) -> dict[str, tuple[RuleFile, Definition]]:
        """The definitions that hold in a place, each with the file it stands in."""
        files = (*self.of("US"), *(self.of(place) if place != "US" else ()))
        return {name: (file, said) for file in files for name, said in file.definitions.items()}

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


def read_rules(
    places: Iterable[str] | None = None,
    overlays: Sequence[Path] = (),
    topics: Collection[str] | None = None,
    examples: bool = True,
) -> Rulebook:
    """Read the shipped rule files of the places and topics named (None: all) and every overlay folder.

    Without `examples` the worked examples of shipped files are passed over, which saves most of the time; the texts and
    digests are those of the whole files all the same.

    A file of confirmations in an overlay is laid over the rule files in memory; one about a place that was not asked
    for waits. Raises UnusableInput with every problem of every file. An overlay may not bring a rule file whose id is
    taken.
    """
    wanted = None if places is None else {"US", *places}
    root = shipped_rulesets()
    paths = [
        (p, p.relative_to(root.parent))
        for p in sorted(root.glob("*/*.yaml"))
        if (wanted is None or p.parent.name.upper() in wanted) and (topics is None or p.stem in topics)
    ]
    shipped = {shown.as_posix() for _, shown in paths} if not examples else set()
    problems: list[Problem] = []
    for overlay in overlays:
        found = sorted(p for p in overlay.rglob("*.yaml") if p.is_file())
        if not found:
            problems.append(
                Problem(str(overlay), "", "", "no rule file", "a folder that holds rule files", "Name another folder.")
            )
        paths += [(p, p.relative_to(overlay.parent)) for p in found]
    others = {p.parent.name for p in root.glob("*/*.yaml")} - {p.parent.name for p, _ in paths}
    return _read(paths, problems, lambda address: address.partition("/")[0] in others, shipped)


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
    # A report keeps the rule files of its places only, and its confirmations may speak of others.
    rulebook = _parsed(((data, id_) for id_, data in found), problems, lambda address: True)
    strays = [id_ for id_ in texts if id_ not in rulebook.texts]
    problems += [Problem(id_, "", "id", "a rule text of another id", id_, todo) for id_ in strays if not problems]
    if problems:
        raise UnusableInput(problems)
    return rulebook


def _read(
    paths: Sequence[tuple[Path, Path]],
    problems: list[Problem],
    elsewhere: Callable[[str], bool],
    cut: Collection[str],
) -> Rulebook:
    rulebook = _parsed(((path.read_bytes(), shown.as_posix()) for path, shown in paths), problems, elsewhere, cut)
    if problems:
        raise UnusableInput(problems)
    return rulebook


def _parsed(
    found: Iterable[tuple[bytes, str]],
    problems: list[Problem],
    elsewhere: Callable[[str], bool],
    cut: Collection[str] = (),
) -> Rulebook:
    """The rule files among bytes that go by a name; what is wrong with the others is added to `problems`.

    `elsewhere`: see `confirm`. `cut` names those that are read without their examples.
    """
    files: dict[str, RuleFile] = {}
    digests: dict[str, str] = {}
    texts: dict[str, str] = {}
    defined: dict[str, set[str]] = {}
    told: dict[str, list[Found]] = {}
    for data, shown in found:
        loaded = _loaded(without_examples(data), shown, []) if shown in cut else None
        loaded = loaded or _loaded(data, shown, problems)
        if loaded is None:
            continue
        body, lines = loaded
        if isinstance(body, dict) and "confirmations" in body:
            # Named by its content: two overlays may both bring a file of that name.
            id_ = f"confirmations/{hashlib.sha256(data).hexdigest()[:16]}"
            told[id_] = _confirmations(body, lines, shown, problems)
            digests[id_], texts[id_] = hashlib.sha256(data).hexdigest(), data.decode("utf-8")
            continue
        file = _rule_file(body, lines, shown, problems)
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
    confirmed = confirm(files, [one for ones in told.values() for one in ones], elsewhere, problems)
    named = {i: files_named(files, [one.confirmation for one in ones]) for i, ones in sorted(told.items())}
    return Rulebook(
        tuple(confirmed[i] for i in sorted(confirmed)),
        {i: digests[i] for i in sorted(digests)},
        {i: texts[i] for i in sorted(texts)},
        named,
    )


_EXAMPLES = re.compile(rb"^    examples:\r?\n(?:(?:      .*)?\r?\n)+", re.MULTILINE)
"""The examples of a rule as the shipped files write them: a block two steps deeper than the list of rules."""


def without_examples(data: bytes) -> bytes:
    """The text of a shipped rule file without the worked examples of its rules."""
    return _EXAMPLES.sub(b"", data)


def parse_rule_file(data: bytes, shown: str, problems: list[Problem]) -> RuleFile | None:
    """Read one rule file from bytes; on failure add to `problems` and give None."""
    loaded = _loaded(data, shown, problems)
    return _rule_file(*loaded, shown, problems) if loaded is not None else None


def _loaded(data: bytes, shown: str, problems: list[Problem]) -> tuple[Any, Lines] | None:
    try:
        return load_yaml_text(data, shown, _plain)
    except UnusableInput as error:
        problems += error.problems
        return None


def _confirmations(body: Any, lines: Lines, shown: str, problems: list[Problem]) -> list[Found]:
    try:
        file = ConfirmationFile.model_validate(body)
    except ValidationError as error:
        problems += [_refused(item, shown, lines, "confirmations") for item in error.errors(include_url=False)]
        return []
    return [Found(c, shown, f"line {lines.at('confirmations', i)}") for i, c in enumerate(file.confirmations)]


def _rule_file(body: Any, lines: Lines, shown: str, problems: list[Problem]) -> RuleFile | None:
    try:
        return RuleFile.model_validate(body)
    except ValidationError as error:
        problems += [_refused(item, shown, lines) for item in error.errors(include_url=False)]
        return None


def _refused(item: Any, shown: str, lines: Lines, kind: Literal["rules", "confirmations"] = "rules") -> Problem:
    """What the models say of one value, in the words of the other messages."""
    loc = item["loc"]
    where, name = f"line {lines.at(*loc)}", ".".join(str(p) for p in loc)
    todo = "See `auditor schema rules`." if kind == "rules" else "See `Confirming values` in the README."
    if item["type"] == "extra_forbidden":
        near = nearest(str(loc[-1]), _words(kind))
        todo = f"Did you mean {' or '.join(near)}? {todo}" if near else todo
        files = "rule files" if kind == "rules" else "confirmations"
        return Problem(shown, where, name, f'the field "{loc[-1]}"', f"only fields that {files} have here", todo)
    if item["type"] == "missing":
        return Problem(shown, where, name, "nothing", f'the field "{loc[-1]}"', todo)
    expected = item["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    return Problem(shown, where, name, _shown(item.get("input")), expected, todo)


def _words(kind: Literal["rules", "confirmations"]) -> list[str]:
    """Every field name of the models of rule files, or of a confirmation."""
    apart: set[type[models.Strict]] = {models.Confirmation, models.ConfirmationFile}
    kinds = {k for k in vars(models).values() if isinstance(k, type) and issubclass(k, models.Strict)}
    wanted = apart if kind == "confirmations" else kinds - apart - {models.ConfirmedBy}
    names = {field.alias or name for k in wanted for name, field in k.model_fields.items()}
    return sorted(names - {"confirmed_by"})


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
