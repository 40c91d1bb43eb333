"""The command `season` and its library call on a whole job folder."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import auditor
from auditor.cli import main
from auditor.vocabulary.problems import UnusableInput

SAMPLE = Path(__file__).parents[1] / "sample_jobs" / "ridge_thinning"


@pytest.fixture(scope="module")
def sample() -> auditor.Season:
    return auditor.season([SAMPLE])


def test_every_load_is_counted_once_by_each_way_to_group(sample: auditor.Season) -> None:
    whole = sample.figures[0]
    assert (
        sample.load_count
        == whole.load_count
        == whole.over_limit.load_count + sum(a.load_count for a in sample.set_apart)
    )
    assert sum(f.over_limit.load_count for f in sample.limits) == whole.over_limit.load_count
    for by in auditor.SEASON_GROUPS:
        of = [f for f in sample.figures if f.by == by]
        assert sum(f.load_count for f in of) == sample.load_count
        assert sum(f.over_limit.over_count for f in of) == whole.over_limit.over_count
        assert sum(f.room.under_limit_lb for f in of) == whole.room.under_limit_lb


def test_the_same_loads_are_over_as_in_the_report(sample: auditor.Season) -> None:
    (job,) = auditor.audit([SAMPLE]).jobs
    over = {w.ticket for w in job.weights if w.state in ("over", "over, tolerated")}
    apart = sum(a.over_any_way for a in sample.set_apart)
    assert sample.figures[0].over_limit.over_count + apart == len(over) > 0


def test_a_share_asked_for_lowers_the_target_as_it_shrinks(sample: auditor.Season) -> None:
    strict = auditor.season([SAMPLE], share_percent=2, by=["truck"])
    assert strict.grouped_by == ["truck"]
    assert {f.by for f in strict.figures} == {"all", "truck"}
    looser, stricter = sample.figures[0].targets[0], strict.figures[0].targets[0]
    assert stricter.limit_lb == looser.limit_lb
    assert stricter.used_lb is not None and looser.used_lb is not None and stricter.used_lb < looser.used_lb


@pytest.mark.parametrize("share", [0, 50, -5, 100, float("nan")])
def test_a_share_out_of_range_is_refused(share: float) -> None:
    with pytest.raises(UnusableInput, match="between"):
        auditor.season([SAMPLE], share_percent=share)


def test_the_command_prints_writes_and_repeats(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    target = tmp_path / "season.json"
    assert main(["season", str(SAMPLE), "--by", "truck", "--write", str(target), str(tmp_path / "season.csv")]) == 0
    text = capsysbinary.readouterr().out.decode()
    assert "TARGET GROSS FOR 5 PERCENT OVER" in text and "by truck" in text and "by driver" not in text
    assert main(["season", str(SAMPLE), "--by", "truck", "--format", "json"]) == 0
    assert capsysbinary.readouterr().out == target.read_bytes()
    assert main(["season", str(SAMPLE), "--share", "60"]) == 2
    assert main(["schema", "season"]) == 0
    assert json.loads(capsysbinary.readouterr().out)["title"] == "season figures 1"
