"""From what judging gathered to the report on each job: allowances, weights, limits, notes, evidence."""

from __future__ import annotations

from dataclasses import replace

from auditor.audit import check
from auditor.record import EvidenceFile, record_from_rows
from auditor.rules.reading import read_rules
from tests.check.haul import a_record, job_report, load, loads, report, rows_of, together
from tests.rules.small import CITED, LIMIT, a_cap, a_file, a_limit, a_rule, an_allowance

TEN = an_allowance("ten", percent_more=10, than="base", where={"product": "chips"})
FIFTEEN = an_allowance("fifteen", form="enforcement tolerance", percent_more=15, than="base")
CAP = a_cap("county", value=56_000, where={"road_class": "county_road"})
LEGS = ({"leg": 1, "road_class": "county_road", "road_name": "Mill Road"}, {"leg": 2, "road_class": "state_route"})


def chips(*weights: int) -> list[dict[str, object]]:
    return [load(f"A{i}", gross_weight_lb=w, product="chips") for i, w in enumerate(weights, 1)]


def test_allowances_used_are_counted_in_loads_with_the_highest() -> None:
    legs = ({"leg": 1}, {"leg": 2})
    (used,) = job_report(
        a_record(chips(80_000, 85_000, 88_000, 90_000), legs), a_file(None, **{LIMIT: a_limit(allowances=[TEN])})
    ).allowances
    # 80,000 needs none, 90,000 is above 88,000
    assert (used.subject_count, used.highest, used.unit, used.title, used.form) == (
        2,
        88_000,
        "lb",
        "the allowance ten",
        "raised limit",
    )
    assert used.limit_key == "us-ga/weight/weight_limit_lb/ten"


def test_each_load_is_shown_against_the_lowest_limit_of_its_way() -> None:
    limit = a_limit(allowances=[TEN, FIFTEEN], caps=[CAP])
    rows = [*chips(50_000, 60_000, 70_000), load("B1", product="chips")]
    points = {p.ticket: p for p in job_report(a_record(rows, LEGS), a_file(None, **{LIMIT: limit})).weights}
    # the county road's 56,000; a tolerance of 15 percent is of the base of 80,000, so it reaches 92,000
    assert {t: (p.limit_lb, p.state, p.where) for t, p in points.items()} == {
        "A1": (56_000, "inside", "Mill Road (GA)"),
        "A2": (56_000, "over, tolerated", "Mill Road (GA)"),
        "A3": (56_000, "over, tolerated", "Mill Road (GA)"),
        "B1": (56_000, "not shown", "Mill Road (GA)"),
    }


def test_a_load_inside_by_an_allowance_says_so() -> None:
    points = job_report(
        a_record(chips(79_000, 85_000, 89_000)), a_file(None, **{LIMIT: a_limit(allowances=[TEN])})
    ).weights
    assert [(p.limit_lb, p.state) for p in points] == [(88_000, "inside by allowance")] * 2 + [(88_000, "over")]


def test_a_limit_that_is_open_elsewhere_on_the_way_leaves_a_load_not_shown() -> None:
    # on Mill Road the posting is blank; the state route's 80,000 is known and the load is under it
    posted = a_cap("posted", field="posted_road_gross_lb", where={"road_class": "county_road"})
    file = a_file(None, **{LIMIT: a_limit(caps=[posted])})
    made = job_report(a_record(loads(70_000, 81_000), LEGS), file)
    assert [(p.limit_lb, p.state) for p in made.weights] == [(80_000, "not shown"), (80_000, "over")]


def test_the_limits_that_spoke_are_cited_once_with_the_tolerance_beside_them() -> None:
    file = a_file(None, **{LIMIT: a_limit(allowances=[TEN, FIFTEEN], caps=[CAP])})
    limits = {limit.key: limit for limit in job_report(a_record(chips(89_000, 70_000)), file).limits}
    assert set(limits) == {f"us-ga/weight/weight_limit_lb/{arm}" for arm in ("ten", "fifteen")}
    ten = limits["us-ga/weight/weight_limit_lb/ten"]
    assert (ten.form, ten.title, ten.instrument, ten.verified, ten.value) == (
        "raised limit",
        "the allowance ten",
        "Act",
        "read",
        None,
    )


def test_the_version_of_the_day_is_cited() -> None:
    versions = [{"value": 80_000, "until": "2025-06-30", **CITED}, {"value": 84_000, "from": "2025-07-01", **CITED}]
    file = a_file(None, **{LIMIT: a_limit() | {"versions": versions}})
    rows = [
        load("A1", gross_weight_lb=90_000, load_date="2025-06-30"),
        load("A2", gross_weight_lb=90_000, load_date="2025-07-01"),
    ]
    made = job_report(a_record(rows), file)
    cited = {limit.key: (limit.value, str(limit.in_force_from), str(limit.in_force_until)) for limit in made.limits}
    assert cited == {
        "us-ga/weight/weight_limit_lb/base": (80_000, "None", "2025-06-30"),
        "us-ga/weight/weight_limit_lb/base:2025-07-01": (84_000, "2025-07-01", "None"),
    }
    assert {i.subject: (i.limit, i.limit_key) for f in made.findings for i in f.items} == {
        "A1": (80_000, "us-ga/weight/weight_limit_lb/base"),
        "A2": (84_000, "us-ga/weight/weight_limit_lb/base:2025-07-01"),
    }


def test_what_no_rule_file_holds_is_said() -> None:
    file = a_file().model_copy(update={"not_found": a_file().not_found})
    body = file.model_dump(by_alias=True, exclude_unset=True)
    body["not_found"] = [{"what": "a limit for sleds", "result": "none in law", "note": "No text names them."}]
    made = job_report(a_record(loads(70_000)), type(file).model_validate(body))
    assert "US-GA: a limit for sleds: none in law. No text names them." in made.not_covered


def test_notes_and_evidence_belong_to_their_job() -> None:
    record = together(*(rows_of(loads(70_000), ({"leg": 1},), job) for job in ("A", "B", "C")))
    notes = (
        "A: weights: tons read as 2,000 lb",
        "loads.load: 2 ticket numbers occur more than once in job B; told apart",
    )
    evidence = (EvidenceFile("B", "b.csv", "0" * 64, 10, ("loads",), 1),)
    made = report(replace(record, notes=notes, evidence=evidence), a_file()).jobs
    assert [j.notes for j in made] == [["weights: tons read as 2,000 lb"], [notes[1]], []]
    assert [[e.path for e in j.evidence] for j in made] == [[], ["b.csv"], []]


def test_the_notes_of_a_single_job_are_kept_as_they_are() -> None:
    record = replace(a_record(loads(70_000)), notes=("loads.load_date: 3 dates came with a time of day", "plain"))
    assert job_report(record, a_file()).notes == list(record.notes)


def test_a_job_without_loads_has_a_report_that_says_so() -> None:
    full, empty = rows_of(loads(81_000), ({"leg": 1},), "A"), rows_of([], ({"leg": 1},), "B")
    made = report(together(full, empty), a_file()).jobs
    assert [(j.job, j.conclusion.count_of("load").count, j.first_load) for j in made][1] == ("B", 0, None)
    assert made[1].conclusion.sentences == [
        "The record holds neither loads nor anything of a harvest site; nothing was judged."
    ]


def test_days_span_the_loads_of_the_job() -> None:
    rows = [load("A1", load_date="2026-05-06"), load("A2", load_date="2026-05-04"), load("A3", load_date=None)]
    made = job_report(a_record(rows), a_file())
    assert (str(made.first_load), str(made.last_load)) == ("2026-05-04", "2026-05-06")


def test_a_rule_may_examine_roads_by_name_and_still_be_counted_in_loads() -> None:
    file = a_file(a_rule(must={"road_class": {"none_of": ["private"]}}), **{LIMIT: a_limit()})
    legs = tuple({"leg": i, "road_class": "private"} for i in (1, 2, 3))
    (finding,) = job_report(a_record(loads(1, 2), legs), file).findings
    assert (finding.subject_count, [i.also_on for i in finding.items]) == (2, [2, 2])


def test_rows_that_no_rule_looks_at_yet_are_named() -> None:
    rows = {
        "job": [{"job": "J", "state": "US-SC"}],
        "streams": [{"stream": "S1"}],
        "water_readings": [{"stream": "S1", "reading": 1}],
    }
    (found,) = check(record_from_rows(rows, "J"), read_rules(["US-SC"])).jobs
    assert "The rows of the table water_readings are kept, but no rule looks at them yet." in found.not_covered
    georgia = {**rows, "job": [{"job": "J", "state": "US-GA"}]}
    (looked_at,) = check(record_from_rows(georgia, "J"), read_rules(["US-GA"])).jobs
    assert not [n for n in looked_at.not_covered if "no rule looks" in n]
    (empty,) = check(record_from_rows({"job": rows["job"]}, "J"), read_rules(["US-SC"])).jobs
    assert not [n for n in empty.not_covered if "no rule looks" in n]
