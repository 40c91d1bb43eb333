"""Judging a record in parts: the same result whatever their size, every place named, every rule counted."""

from __future__ import annotations

import pytest

from auditor.check import tally as tally_module
from auditor.check.tally import chunks, judge_tables, places_of, record_fact
from auditor.record import Record
from auditor.report.json_text import report_json
from auditor.rules.models import RuleFile
from auditor.rules.reading import Rulebook
from tests.check.haul import a_record, job_report, load, loads, report, rows_of, together
from tests.rules.small import LIMIT, a_file, a_limit, a_rule, an_allowance

LEG = ({"leg": 1, "road_class": "state_route", "road_name": "Route 14"},)


def three_jobs() -> Record:
    weights = {"A": (87_000, 79_000, None), "B": (85_000,), "C": (90_000, 70_000)}
    return together(*(rows_of(loads(*w), LEG, job) for job, w in weights.items()))


FILE = a_file(
    [a_rule(), a_rule(id="slippery", examines="loads", must={"slippery": False}, evidence="demanded by law")],
    **{LIMIT: a_limit(allowances=[an_allowance(value=86_000, where={"unitized": True})])},
)


@pytest.mark.parametrize("at_once", [1, 2, 3, 4, 6])
def test_the_report_is_the_same_whatever_the_size_of_the_parts(at_once: int, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = report_json(report(three_jobs(), FILE))
    monkeypatch.setattr(tally_module, "ROWS_AT_ONCE", at_once)
    assert report_json(report(three_jobs(), FILE)) == whole


@pytest.mark.parametrize(
    ("at_once", "jobs"), [(1, ["A", "B", "C"]), (4, ["AB", "C"]), (3, ["A", "BC"]), (100, ["ABC"])]
)
def test_parts_hold_whole_jobs(at_once: int, jobs: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    # A has 3 loads, B has 1, C has 2
    monkeypatch.setattr(tally_module, "ROWS_AT_ONCE", at_once)
    parts = list(chunks(three_jobs()))
    assert ["".join(p["loads"]["job"].unique(maintain_order=True)) for p in parts] == jobs
    assert sum(p["loads"].height for p in parts) == 6
    assert all(set(p["legs"]["job"]) == set(p["loads"]["job"]) for p in parts)


def test_jobs_do_not_mix_though_their_trucks_and_tickets_have_the_same_names() -> None:
    made = report(three_jobs(), FILE)
    assert [(j.job, j.conclusion.count_of("load").count, [i.subject for f in j.findings for i in f.items]) for j in made.jobs] == [
        ("A", 3, ["A1"]), ("B", 1, []), ("C", 2, ["A1"])
    ]  # fmt: skip
    # B's load of 85,000 lb is open, for nobody wrote down whether its logs are unitized
    assert [m.fact for m in made.jobs[1].missing if not m.demanded_by_law] == ["loads.unitized"]


def test_the_places_are_the_federal_one_and_the_states_of_the_legs() -> None:
    legs = [{"destination": "MILL", "leg": i, "state": s} for i, s in enumerate(("US-SC", "US-GA", "US-SC"), 1)]
    assert places_of(a_record(loads(1), legs).tables) == ["US", "US-GA", "US-SC"]


def test_states_without_rule_files_are_named() -> None:
    legs = ({"leg": 1}, {"leg": 2, "state": "US-WY"})
    made = job_report(a_record(loads(70_000), legs), FILE)
    assert "No rule file for US-WY: its roads were judged by federal rules only." in made.not_covered


def test_a_rule_that_met_no_row_shows_zeros() -> None:
    rule = a_rule(id="tied", examines="tiedowns", must={"knotted": False})
    coverage = {c.rule: c for c in job_report(a_record(loads(81_000, 70_000)), a_file([a_rule(), rule])).coverage}
    met, none = coverage["us-ga/weight/gross"], coverage["us-ga/weight/tied"]
    assert (met.conformity, met.nonconformity) == (1, 1)
    kinds = ("conformity", "nonconformity", "not_evidenced", "inconclusive", "not_verifiable", "not_applicable")
    assert [getattr(none, k) for k in kinds] == [0] * 6


def test_every_load_is_counted_once_under_every_rule_that_met_it() -> None:
    legs = ({"leg": 1, "road_class": "county_road"}, {"leg": 2, "road_class": "state_route"})
    file = a_file(a_rule(where={"road_class": "county_road"}))
    (c,) = job_report(a_record(loads(81_000, 70_000, None), legs), file).coverage
    # each load is not applicable on its second leg; its first, the worse, counts
    assert (c.nonconformity, c.conformity, c.not_evidenced, c.not_applicable) == (1, 1, 1, 0)


def test_only_the_views_asked_for_are_judged() -> None:
    found = judge_tables(three_jobs().tables, Rulebook((FILE,)), ("loads",))
    assert {j.view for j in found} == {"loads"}


def test_a_guarded_rule_has_its_uncertainty_at_hand() -> None:
    rows = [load(t, gross_weight_lb=79_900, scale_uncertainty_lb=u) for t, u in (("A1", 50), ("A2", 500), ("A3", None))]
    (c,) = job_report(a_record(rows), a_file(a_rule(decision="guarded"))).coverage
    # 79,950 inside; 79,400 to 80,400 straddles 80,000; no uncertainty on the third
    assert (c.conformity, c.inconclusive, c.not_evidenced) == (1, 1, 1)


def test_facts_are_named_by_the_record() -> None:
    assert record_fact("load_legs", "gross_weight_lb") == "loads.gross_weight_lb"
    assert record_fact("load_legs", "holds:overweight_permit:US-SC") == "documents.valid_from, documents.valid_until"


def test_the_weights_of_single_loads_are_left_out_of_large_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tally_module, "WEIGHTS_SHOWN_UP_TO", 1)
    made = job_report(a_record(loads(81_000, 70_000)), FILE)
    assert made.weights == []
    assert "The weights of single loads are left out of a run with so many loads." in made.not_covered


def test_many_rules_cost_no_more_than_their_number() -> None:
    many: RuleFile = a_file([a_rule(id=f"r{i}") for i in range(60)])
    assert len(job_report(a_record(loads(81_000)), many).findings) == 60
