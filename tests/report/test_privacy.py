"""What leaves the office: drafts, codes for names, parts left out."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from auditor.report import privacy
from auditor.report.json_text import check_digest, report_json
from auditor.report.model import FixFirst, Item, Report, WeightPoint
from auditor.report.privacy import PARTS, as_draft, coded, coder, edition, names_key, with_parts
from tests.report.sample_report import many_jobs, one_job
from tests.report.sample_site import site_report

SECRET = b"heron at the ford"

# Every field of text in a report. A new one must be put where it belongs: what may hold a name is coded.
CODED = {
    "contractor", "title of JobReport", "what", "vehicle", "destination", "source", "worst", "summary", "how_much",
    "where", "path", "notes", "practice", "observer", "licence", "photo", "reason of Judgement", "place of Judgement",
    "rule of Judgement", "name of WalkStop", "samples", "subject of Item", "not_covered",
    "name of MapFeature", "detail", "projection", "layer", "notes of SiteMap", "time_notes", "track", "bank", "shown_as",  # the map is taken out whole
}  # fmt: skip
FREE = {
    "key", "means", "unit", "form", "title", "instrument", "at", "seen", "note", "subject", "ticket", "boundary", "limit_key",
    "to_mend", "id", "rule", "place", "topic", "standing", "duty_of", "action", "caution", "fact", "meaning", "rules",
    "todo", "reason", "sha256", "tables", "text", "sentences", "job", "state",
    "engine_version", "cautions", "names_key", "digest", "name",
    "question", "category", "place_kind", "answer", "role", "computed", "judgement", "judgements", "outcome", "published",
    "confirmed_by",  # a limit rests on whoever confirmed it, and the kept rule texts name them too
}  # fmt: skip


def text_fields(model: type[BaseModel]) -> Iterator[tuple[str, str]]:
    """Model and name of every field that holds free text, in the model and the models inside it."""
    for name, field in model.model_fields.items():
        kinds = [field.annotation, *get_args(field.annotation)]
        for kind in kinds:
            if kind is str:
                yield model.__name__, name
            elif isinstance(kind, type) and issubclass(kind, BaseModel):
                yield from text_fields(kind)


def texts(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)
    elif isinstance(value, str):
        yield value


def named_report() -> Report:
    """A report in which every place for a name holds one."""
    report = one_job()
    job = report.jobs[0]
    job.title, job.contractor = "Sandy Fork tract", "Blue Heron Logging"
    job.notes = ['loads.destination: "Otter Mill" for every row']
    job.evidence[1].path = "heron/otter tickets.xlsx"
    for finding in job.findings:
        for place, item in enumerate(finding.items):
            item.vehicle, item.destination = f"Rig {place % 2} + Pup {place % 3}", "Otter Mill"
            item.what = "axles 2-3 on Marsh Lane (GA)"
            item.source = "heron/otter tickets.xlsx, sheet Rig 1, row 14"
        finding.worst = f"ticket {finding.items[0].subject}: {finding.items[0].what}, 84,020 lb, at most 84,000 lb"
    job.fix_first[0].how_much = f"30 loads. Worst: {job.findings[0].worst}."
    for point in job.weights:
        point.where = "Marsh Lane (GA)"
    return report


NAMES = ("Sandy", "Heron", "heron", "Otter", "otter", "Rig", "Pup", "Marsh")


def test_every_field_of_text_is_known_to_be_coded_or_free_of_names() -> None:
    known = CODED | FREE
    found = {f"{n} of {m}" if f"{n} of {m}" in known else n for m, n in text_fields(Report)}
    assert found == known


def test_no_name_is_left_and_the_digest_is_right() -> None:
    report = coded(named_report(), names_key(["PINE-07"]))
    left = [t for t in texts(json.loads(report_json(report))) for n in NAMES if n in t]
    assert left == []
    assert any("Heron" in t for t in texts(json.loads(report_json(named_report()))))
    assert check_digest(report)
    assert report.names == "codes"
    assert report.left_out == ["notes"]


def test_figures_tickets_and_what_is_no_name_stay() -> None:
    before, after = (r.jobs[0].findings[0] for r in (named_report(), coded(named_report(), names_key(["PINE-07"]))))
    assert [(i.subject, i.measured, i.limit, i.margin) for i in before.items] == [
        (i.subject, i.measured, i.limit, i.margin) for i in after.items
    ]
    item = after.items[0]
    assert item.what.startswith("axles 2-3 on road-")
    assert item.what.endswith(" (GA)")
    assert item.source.startswith("file-")
    assert ".xlsx, sheet sheet-" in item.source
    assert item.source.endswith(", row 14")
    assert after.worst == f"ticket {item.subject}: {item.what}, 84,020 lb, at most 84,000 lb"
    assert coded(named_report(), names_key(["PINE-07"])).jobs[0].evidence[0].path == "job.yaml"


def test_equal_names_have_equal_codes_and_different_ones_different() -> None:
    report = coded(named_report(), names_key(["PINE-07"]))
    items = [i for f in report.jobs[0].findings for i in f.items]
    assert len({i.destination for i in items}) == 1
    trucks, trailers = ({i.vehicle.split(" + ")[n] for i in items} for n in (0, 1))
    assert (len(trucks), len(trailers)) == (2, 3)
    # The road of the findings is the road of the weights, the file of a row the file in the list of evidence.
    assert report.jobs[0].weights[0].where == items[0].what.removeprefix("axles 2-3 on ")
    assert items[0].source.split(",")[0] == report.jobs[0].evidence[1].path


def test_a_secret_makes_codes_that_hold_in_every_report() -> None:
    def destination(job: str, secret: bytes | None) -> str:
        report = named_report()
        report.jobs[0].job = job
        return edition(report, names="codes", secret=secret).jobs[0].findings[0].items[0].destination

    assert destination("PINE-07", SECRET) == destination("OAK-02", SECRET)
    assert destination("PINE-07", SECRET) != destination("PINE-07", SECRET + b"!")
    assert destination("PINE-07", None) != destination("OAK-02", None)
    assert destination("PINE-07", None) == destination("PINE-07", None)


def test_the_report_tells_secrets_apart_without_telling_them() -> None:
    open_, kept = edition(named_report(), names="codes"), edition(named_report(), names="codes", secret=SECRET)
    assert (open_.names_key, len(kept.names_key)) == ("", 8)
    assert privacy.OPEN_KEY in open_.cautions
    assert privacy.OPEN_KEY not in kept.cautions
    assert SECRET.decode() not in report_json(kept).decode()


def test_codes_do_not_tell_the_order_of_names() -> None:
    """Of 200 names in order, about half of the neighbours' codes are in order; 60 to 140 is 6 standard deviations."""
    names = [f"truck {n:03}" for n in range(201)]
    code = coder(names_key(["PINE-07"]), names)
    made = [code("truck", name) for name in names]
    rising = sum(a < b for a, b in itertools.pairwise(made))
    assert 60 <= rising <= 140


def test_codes_grow_until_they_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    # One letter of 32 cannot tell 100 names apart.
    monkeypatch.setattr(privacy, "_SHORTEST_CODE", 1)
    names = {f"truck {n}" for n in range(100)}
    code = coder(names_key(["PINE-07"]), names)
    assert len({code("truck", name) for name in names}) == 100


@settings(deadline=None)
@given(st.text(max_size=30), st.sampled_from(["", "stack 1 ", "axle 3 ", "stack 2 tiedown line 1 "]))
def test_whatever_a_road_is_called_its_name_goes(name: str, part: str) -> None:
    # Codes have no small letters, so that the mark cannot come about in one.
    road = f"zq{name}zq"
    report = one_job()
    item = report.jobs[0].findings[0].items[0]
    item.what, item.source = f"{part}on {road} (GA)", f"{road}.csv, sheet {road}, row 3"
    item.vehicle, item.destination = f"{road} + {road}", road
    report.jobs[0].weights[0].where = f"{road} (GA)"
    after = coded(report, names_key(["PINE-07"])).jobs[0]
    done: tuple[Item, WeightPoint] = (after.findings[0].items[0], after.weights[0])
    assert not any("zq" in t for d in done for t in texts(d.model_dump(mode="json")))
    assert done[0].what.startswith(part)


def test_words_for_a_class_of_road_are_no_names() -> None:
    report = one_job()
    report.jobs[0].weights[0].where = "county road (GA)"
    report.jobs[0].findings[0].items[0].what = "axles 2-5 on interstate (GA)"
    after = coded(report, names_key(["PINE-07"])).jobs[0]
    assert after.weights[0].where == "county road (GA)"
    assert after.findings[0].items[0].what == "axles 2-5 on interstate (GA)"


def test_codes_are_not_made_of_codes() -> None:
    with pytest.raises(ValueError, match="already"):
        coded(edition(named_report(), names="codes"), names_key(["PINE-07"]))


def test_a_draft_says_so_under_its_digest() -> None:
    report = as_draft(one_job())
    assert report.draft
    assert report.cautions[0] == privacy.DRAFT
    assert check_digest(report)
    assert not check_digest(report.model_copy(update={"draft": False}))
    assert not one_job().draft


@pytest.mark.parametrize("part", PARTS)
def test_a_part_left_out_is_gone_and_named(part: Any) -> None:
    before = many_jobs()
    before.jobs += site_report().jobs
    after = with_parts(before, [p for p in PARTS if p != part])
    assert after.left_out == [part]
    assert check_digest(after)
    assert any(c.startswith(f"Left out of this report: {part}.") for c in after.cautions)
    if part == "rules":
        assert [(r.id, r.sha256, r.text) for r in after.rules] == [(r.id, r.sha256, "") for r in before.rules]
        assert privacy.NO_RULES in after.cautions
        return
    name = part.replace(" ", "_")
    assert any(getattr(job, name) for job in before.jobs)
    assert not any(getattr(job, name) for job in after.jobs)
    others = [p.replace(" ", "_") for p in PARTS if p not in (part, "rules")]
    for a, b in zip(before.jobs, after.jobs, strict=True):
        assert [getattr(a, n) for n in others] == [getattr(b, n) for n in others]
        assert a.conclusion == b.conclusion


def test_what_to_fix_first_goes_with_what_it_quotes() -> None:
    # The sample has two things to fix that are findings and one that is missing evidence.
    assert [f.finding for f in one_job().jobs[0].fix_first] == [1, 2, 0]
    without = [p for p in PARTS if p != "findings"]
    assert [f.finding for f in with_parts(one_job(), without).jobs[0].fix_first] == [0]
    without = [p for p in PARTS if p != "missing"]
    assert [f.finding for f in with_parts(one_job(), without).jobs[0].fix_first] == [1, 2]


def test_a_risk_to_fix_first_goes_with_the_judgements() -> None:
    report = site_report()
    risk = FixFirst(finding=0, text="Significant risk", how_much="bank b", judgement="O1")
    report.jobs[0].fix_first = [risk, *report.jobs[0].fix_first]
    for part, left in (("judgements", ["", "", ""]), ("missing", ["O1", "", "", ""]), ("findings", ["O1"])):
        kept = with_parts(report, [p for p in PARTS if p != part]).jobs[0].fix_first
        assert [f.judgement for f in kept] == left


def named_site() -> Report:
    """A report on a site in which every place for a name, a number of a person or a position holds one."""
    report = site_report()
    job = report.jobs[0]
    job.title, job.contractor, job.notes = "Otter tract", "Heron Logging", []
    job.not_covered = ['Judgement O1 names the rule "Otter way", which no rule file in use holds.']
    for stop in job.walk:
        stop.where = "left side of Otter Run, perennial, 600 ft" if stop.subject == "bank" else "culvert on Marsh Run"
    job.walk[1] = job.walk[1].model_copy(update={"subject": "bank", "name": "Marsh Run left", "where": ""})
    job.walk[2] = job.walk[2].model_copy(
        update={"subject": "disturbed place", "name": "T1 at Marsh Run left", "where": "skid trail, by Marsh Run left"}
    )
    job.walk.append(
        job.walk[0].model_copy(update={"subject": "stream", "name": "Otter Run", "where": "perennial stream"})
    )
    for told in job.judgements:
        told.observer, told.licence, told.photo, told.practice = "Heron", "Rig 1", "otter.jpg", "Sandy 3"
        told.reason, told.source, told.photo_latitude_deg, told.photo_longitude_deg = (
            "Pup dug it",
            "otter.csv, row 2",
            34.5,
            -83.5,
        )
    job.judgements[0].rule = "Otter way"
    job.judgements[1].place_kind, job.judgements[1].place = "stream", "Otter Run"
    for finding in job.findings:
        finding.items = [
            i.model_copy(
                update={"what": "station 4, 300 to 400 ft, left side, of Otter Run", "source": "otter.csv, row 3"}
            )
            for i in finding.items
        ]
        finding.worst = f"{finding.subject} {finding.items[0].subject}: {finding.items[0].what}, 34 ft"
    stream = job.findings[1]
    stream.subject, stream.items[0].subject, stream.worst = "stream", "Otter Run", "stream Otter Run: water"
    job.missing[0].subject, job.missing[0].samples = "stream", ["Otter Run"]
    job.open_questions[0].subject, job.open_questions[0].samples = "stream", ["Marsh Run"]
    first = job.judgements[0]
    job.fix_first = [
        FixFirst(
            finding=0,
            text=f"Significant risk. Shade kept, answered no: {first.reason}",
            how_much=f"bank {first.place}",
            judgement=first.name,
        )
    ]
    for file in job.evidence:
        file.path = f"otter/{file.path}"
    return report


def test_no_name_of_a_stream_or_an_observer_and_no_position_is_left_of_a_site() -> None:
    report = coded(named_site(), names_key(["ALDER-1"]))
    # The sample's own names of banks stay as recorded, as the caution says; what is looked for are the names put in above.
    assert [t for t in texts(json.loads(report_json(report))) for n in NAMES if n in t] == []
    (job,) = report.jobs
    assert job.map is None and report.left_out == ["notes", "map"]
    assert {(j.photo_latitude_deg, j.photo_longitude_deg) for j in job.judgements} == {(None, None)}
    assert job.walk[0].where.startswith("left side of stream-") and job.walk[0].where.endswith(", perennial, 600 ft")
    assert job.walk[0].name == "AL-right"
    item = job.findings[0].items[0]
    assert item.what.startswith("station 4, 300 to 400 ft, left side, of stream-")
    # The same stream has the same code wherever it stands.
    code = item.what.rpartition(" of ")[2]
    assert {job.walk[-1].name, job.judgements[1].place, job.findings[1].items[0].subject, *job.missing[0].samples} == {
        code
    }
    assert job.findings[1].worst == f"stream {code}: water"
    assert job.fix_first[0].how_much == f"bank {job.judgements[0].place}"
    assert len({j.observer for j in job.judgements}) == 1


def test_all_parts_and_names_as_recorded_change_nothing() -> None:
    assert edition(one_job()) == one_job()


def test_everything_at_once_keeps_the_report_given() -> None:
    report = named_report()
    before = report_json(report)
    after = edition(report, draft=True, names="codes", parts=["findings"], secret=SECRET)
    assert report_json(report) == before
    assert (after.draft, after.names, after.left_out) == (True, "codes", [p for p in PARTS if p != "findings"])
    assert Report.model_validate_json(report_json(after)) == after
