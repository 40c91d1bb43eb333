"""The developers' guide tells the truth about rule files and house tests."""

from __future__ import annotations

import re

import yaml

from auditor.rules.models import RuleFile
from auditor.vocabulary import TABLES, TOPICS, VIEWS
from tests.house.tree import ROOT, TESTS

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_rule_file_shown_is_one() -> None:
    blocks = re.findall(r"```yaml\n(.*?)```", GUIDE, re.DOTALL)
    assert len(blocks) == 1
    shown = RuleFile.model_validate(yaml.safe_load(blocks[0]))
    assert shown.topic in TOPICS
    rule = shown.rules[0]
    view = VIEWS.get(rule.examines) or TABLES[rule.examines]
    for example in rule.examples:
        assert [name for name in example.row if view.field(name) is None] == []
    assert {v.source for limit in shown.limits.values() for v in limit.versions} | {rule.source} <= set(shown.sources)


def test_every_house_test_is_listed() -> None:
    listed = re.findall(r"^\| `(test_[a-z_]+\.py)` \|", GUIDE, re.MULTILINE)
    assert sorted(listed) == sorted(p.name for p in (TESTS / "house").glob("test_*.py"))


def test_the_paths_named_exist() -> None:
    """Folders and files in code spans; `us-xx` stands for a state still to come."""
    named = re.findall(r"`((?:auditor|tests|rulesets|sample_jobs|\.ci)/[^`\s]*)`", GUIDE)
    assert named
    # In the wheel the rule files move inside the package.
    assert [
        n for n in named if "us-xx" not in n and n != "auditor/rulesets/" and not any(ROOT.glob(n.rstrip("/")))
    ] == []
