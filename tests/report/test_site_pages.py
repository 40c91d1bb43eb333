"""The pages on a harvest site: the walk with its judgements, stationing, the score and the map, in PDF and HTML."""

from __future__ import annotations

import html
import io
import re

import pytest
from pypdf import PdfReader

from auditor.report import site_wording as site_say
from auditor.report import wording as say
from auditor.report.html import html_bytes
from auditor.report.model import Item, JobReport, PracticeScore, WalkOutcome, WalkStop
from auditor.report.pdf import pdf_bytes, report_html
from auditor.report.privacy import PARTS, with_parts
from auditor.report.site_map_svg import map_marks
from auditor.report.site_pages import site_page, station_tables, walk_topics
from tests.report.sample_report import one_job
from tests.report.sample_site import COVER, WIDTH, site_job, site_report

SITE, JOB = site_report(), site_job()


def _flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def pages() -> list[str]:
    return [_flat(page.extract_text()) for page in PdfReader(io.BytesIO(pdf_bytes(SITE))).pages]


@pytest.fixture(scope="module")
def screen() -> str:
    return _words(html_bytes(SITE).decode("utf-8"))


def _words(page: str) -> str:
    return _flat(html.unescape(re.sub(r"<style>.*?</style>|<[^>]*>", " ", page, flags=re.DOTALL)))


def test_every_judgement_stands_once_at_its_place() -> None:
    topics, elsewhere = walk_topics(JOB)
    placed = {
        j.name: (topic.topic, place.stop.name)
        for topic in topics for place in topic.places for row in place.rows if (j := row.judgement) is not None
    }  # fmt: skip
    assert [j.name for j in elsewhere] == ["O10", "O11"]
    assert placed == {
        "O1": ("streamside", "AL-right"), "O2": ("streamside", "AL-right"), "O3": ("streamside", "AL-left"),
        "O4": ("streamside", "FE-left"), "O5": ("crossings", "X1"), "O6": ("crossings", "X2"), "O7": ("trails", "T5"),
        "O8": ("decks", "DK1"), "O9": ("decks", "DK3"),
    }  # fmt: skip
    assert sum(len(topic.judgements) for topic in topics) + len(elsewhere) == len(JOB.judgements)


def test_no_outcome_of_the_walk_is_lost() -> None:
    topics, _ = walk_topics(JOB)
    shown = [
        (topic.topic, place.stop.name, title)
        for topic in topics for place in topic.places
        for title in [*{row.outcome.title for row in place.rows if row.outcome}, *(t for _, titles in place.others for t in titles)]
    ]  # fmt: skip
    assert sorted(shown) == sorted((stop.topic, stop.name, o.title) for stop in JOB.walk for o in stop.outcomes)
    assert [topic.topic for topic in topics] == ["streamside", "crossings", "trails", "decks"]
    assert topics[0].told == "4 places, 3 with a finding; 4 judgements on the ground, 2 at odds with the records"


def test_a_judgement_stands_beside_the_outcome_of_its_rule() -> None:
    rows = walk_topics(JOB)[0][0].places[0].rows
    pairs = [(row.outcome and row.outcome.rule, row.judgement and row.judgement.name) for row in rows]
    assert pairs == [(WIDTH, "O1"), (COVER, "O2")]


def _judgement_stop(name: str, topic: str, rule: str, finding: int | None) -> WalkStop:
    outcome = WalkOutcome(
        rule=rule, title=f"rule on {name}", standing="regulation", outcome="nonconformity", finding=finding
    )
    return WalkStop(topic=topic, subject="judgement", name=name, where="", outcomes=[outcome], judgements=[])


def _with(*stops: WalkStop) -> JobReport:
    return JOB.model_copy(update={"walk": [*JOB.walk, *stops]})


def test_a_rule_held_against_a_judgement_stands_beside_it_at_its_place() -> None:
    topics, elsewhere = walk_topics(_with(_judgement_stop("O4", "streamside", "us-xx/streamside/shade", 2)))
    bank = next(place for place in topics[0].places if place.stop.name == "FE-left")
    assert [(r.outcome and r.outcome.title, r.judgement and r.judgement.name) for r in bank.rows] == [
        ("Bare ground in the zone", None), ("rule on O4", "O4"),
    ]  # fmt: skip
    assert not [place for topic in topics for place in topic.places if place.stop.subject == "judgement"]
    assert len(elsewhere) == 2


def test_a_judgement_of_the_whole_job_under_a_rule_is_a_place_of_its_own() -> None:
    job = JobReport.model_validate(JOB.model_dump())
    whole = WalkStop(topic="fuel", subject="job", name="ALDER-1", where="", outcomes=[], judgements=["O10", "O11"])
    topics, elsewhere = walk_topics(
        job.model_copy(
            update={"walk": [*job.walk, whole, _judgement_stop("O10", "crossings", "us-xx/crossings/few", None)]}
        )
    )
    own = topics[1].places[-1]
    assert own.stop.name == "O10" and [row.judgement and row.judgement.name for row in own.rows] == ["O10"]
    assert own.others == [], "its outcome is not said to be without a judgement"
    # The job as a whole is a stop of the topic fuel; that no rule looked at O11 there keeps it out of that topic.
    assert [told.name for told in elsewhere] == ["O11"]


def test_stations_run_from_the_upper_end_in_walking_order() -> None:
    tables = station_tables(JOB)
    assert [(t.name, [(r.item.from_ft, r.finding.number) for r in t.rows]) for t in tables] == [
        ("AL-right", [(0, 1), (300, 1), (400, 1)]), ("AL-left", [(1250, 1)]), ("FE-left", [(620, 2)]),
        ("R1", [(350, 5)]), ("T1", [(150, 4), (380, 4)]), ("T5", [(40, 4)]),
    ]  # fmt: skip
    assert tables[0].where == "perennial ALDER, right side, 2,060 ft"
    without_walk = station_tables(JOB.model_copy(update={"walk": []}))
    assert {t.name for t in without_walk} == {t.name for t in tables}
    assert without_walk[0].where == "station 4, right side, of ALDER", "without a walk the item says where"


@pytest.mark.parametrize(
    ("feet", "told"),
    [
        (0, "0+00"),
        (5, "0+05"),
        (99.49, "0+99"),
        (99.5, "1+00"),
        (350, "3+50"),
        (12345.6, "123+46"),
        (-12, "-0+12"),
    ],
)
def test_stations_are_hundreds_of_feet_and_feet(feet: float, told: str) -> None:
    assert site_say.station(feet) == told


def _stretch(start: float | None, end: float | None, **changes: object) -> Item:
    return JOB.findings[0].items[0].model_copy(update={"from_ft": start, "to_ft": end, **changes})


def test_a_stretch_a_place_and_neither() -> None:
    assert (site_say.stations(_stretch(300, 400)), site_say.feet(_stretch(300, 400))) == (
        "3+00 to 4+00",
        "300 to 400 ft",
    )
    assert (site_say.stations(_stretch(350, None)), site_say.feet(_stretch(350, None))) == ("3+50", "at 350 ft")
    assert (site_say.stations(_stretch(None, None)), site_say.feet(_stretch(None, None))) == (say.NOTHING, say.NOTHING)
    # 290 ft where at most 180 ft are asked for: 110 ft over.
    over = _stretch(350, 640, measured=290, limit=180, margin=110, boundary="at most")
    assert (site_say.required(over), site_say.short_by(over)) == ("at most 180 ft", "110 ft over")
    bare = _stretch(350, None, measured=None, limit=None, margin=None, boundary="", to_mend="")
    assert (site_say.required(bare), site_say.short_by(bare)) == (say.NOTHING, say.NOTHING)
    assert site_say.to_do(bare, JOB.findings[0]) == JOB.findings[0].action


def _score(**changes: object) -> PracticeScore:
    return JOB.scores[0].model_copy(update=changes)


def test_percent_is_a_range_where_answers_are_open() -> None:
    # 7 yes, 1 no, 1 open: 7 / 9 = 77.8 %, 8 / 9 = 88.9 %.
    assert site_say.percent_range(_score(low_pct=700 / 9, high_pct=800 / 9)) == "77.8 to 88.9 %"
    assert site_say.percent_range(_score(low_pct=50.0, high_pct=50.0)) == "50 %"
    assert site_say.percent_range(_score(low_pct=None, high_pct=None)) == say.NOTHING
    assert site_say.risk_count(_score(risk_count_low=1, risk_count_high=3)) == "1 to 3"
    assert site_say.survey(_score(survey_site_count=105)) == "a survey finds this rate within 5 points by 105 sites"
    assert site_say.points(27.72) == "\N{PLUS-MINUS SIGN} 27.7"


@pytest.mark.parametrize("form", ["pdf", "html"])
def test_both_views_and_their_difference_can_be_read(form: str, pages: list[str], screen: str) -> None:
    text = " ".join(pages) if form == "pdf" else screen
    for told in JOB.judgements:
        assert all(
            words in text for words in (site_say.answer(told), told.reason, site_say.observed(told), told.source)
        )
        assert site_say.photo(told) in text
    # O2, O3, O7 and O9 say something else than the records; O1 and O6 the same.
    assert text.count("\N{NOT EQUAL TO} ground and records disagree") == 4
    assert text.count("= ground and records agree") == 2
    assert "photo IMG_0416.jpg at 34.81610 N, 83.10160 W, 1 October 2026" in text
    assert "photo IMG_0413.jpg, position not recorded" in text
    assert "logger, day not recorded" in text and site_say.TWO_VIEWS in text
    assert all(topic.told in text for topic in walk_topics(JOB)[0])


@pytest.mark.parametrize("form", ["pdf", "html"])
def test_stations_scores_and_marks_of_the_map_can_be_read(form: str, pages: list[str], screen: str) -> None:
    text = " ".join(pages) if form == "pdf" else screen
    assert "3+00 to 4+00 300 to 400 ft 16 ft at least 40 ft 24 ft short 24 ft more 1" in text
    assert "1+50 to 2+40 150 to 240 ft 90 ft at most 80 ft 10 ft over 1 more drain, at 195 ft 4" in text
    assert "25 to 50 %" in text and "66.7 %" in text and "89 % 2023, implementation report" in text
    assert "All, pooled 5 4 1 1 50 to 60 %" in text and site_say.HOW_SCORED in text
    assert "fan of sediment to the water below station 4 " in text
    assert JOB.map is not None
    for mark in map_marks(JOB.map):
        assert re.search(
            rf"\b{mark.label} {mark.feature.layer} {re.escape(mark.feature.name)}\s?, {re.escape(mark.feature.detail)}",
            text,
        )
    assert all(note in text for note in JOB.map.notes)


def test_a_note_on_the_map_that_the_notes_on_reading_hold_stands_once() -> None:
    assert JOB.map is not None
    job = JOB.model_copy(update={"notes": [*JOB.notes, JOB.map.notes[0]]})
    assert site_page(job, narrow=False).map_notes == JOB.map.notes[1:]


def test_no_heading_stands_alone_at_the_foot_of_a_page(pages: list[str]) -> None:
    heads = ["Map of the site", "Corrective actions", "Stationing: where to go with a tape", "Stream crossings", "Roads and trails",
             "Decks and landings", "Implementation of practices", "The walk: Streamside zones", site_say.STATIONS]  # fmt: skip
    text = " ".join(pages)
    assert all(head in text for head in heads)
    for page in pages:
        body = re.split(r" Job ALDER-1 digest | page \d+ of ", page)[0]
        assert not [head for head in heads if body.endswith(head)], body[-80:]


def test_the_phone_has_a_map_of_its_own_and_every_mark_leads_to_its_finding() -> None:
    page = html_bytes(SITE).decode("utf-8")
    boxes = re.findall(r'class="chart" viewBox="0 0 (\d+) ', page)
    assert boxes == ["680", "340"]
    assert report_html(SITE).count('class="chart"') == 1
    marks = page[page.index('class="plain marks"') :]
    links = re.findall(r'href="#(job-1-\d+)"', marks[: marks.index("</ul>")])
    assert links == [f"job-1-{n}" for n in (1, 1, 1, 2, 3, 5, 6)]
    assert all(f'id="{link}"' in page for link in links)


@pytest.mark.parametrize("part", ["walk", "judgements", "scores", "map"])
def test_a_part_left_out_is_not_called_empty(part: str) -> None:
    report = with_parts(SITE, [p for p in PARTS if p != part])
    title = {"walk": "The walk", "judgements": "Judgements on the ground", "scores": "Implementation of practices",
             "map": "Map of the site"}[part]  # fmt: skip
    assert f"{title} Left out of this report." in _words(report_html(report))
    assert f"{title} : Left out" in _words(html_bytes(report).decode("utf-8")).replace(f"{title}:", f"{title} :")
    if part == "walk":
        assert all(site_say.answer(told) in _words(report_html(report)) for told in JOB.judgements), "they stay"


def test_a_job_of_loads_has_no_pages_on_a_site() -> None:
    text = _words(report_html(one_job()))
    assert not [
        w for w in ("Map of the site", "Stationing", "The walk", "Implementation", "on the ground") if w in text
    ]
    assert site_page(one_job().jobs[0], narrow=True).is_site is False


def test_what_a_job_holds_is_told_for_loads_and_sites() -> None:
    both = SITE.model_copy(update={"jobs": [*SITE.jobs, *one_job().jobs]})
    # 4 banks + 2 crossings + 8 segments + 3 decks = 17 places.
    assert site_say.held_in_all(both) == "150 loads, 17 places of harvest sites"
    assert site_say.held(JOB.conclusion) == "17 places"
    assert "2 jobs, 150 loads, 17 places of harvest sites" in _words(report_html(both))


def test_texts_of_the_site_are_escaped() -> None:
    report = SITE.model_copy(deep=True)
    bad = '</td><script>alert("1")</script>'
    report.jobs[0].judgements[0].reason = report.jobs[0].walk[0].where = bad
    report.jobs[0].scores[0].published = bad
    assert report.jobs[0].map is not None
    report.jobs[0].map.features[0].name = report.jobs[0].map.projection = bad
    report.jobs[0].map.notes = [bad]
    for page in (report_html(report), html_bytes(report).decode("utf-8")):
        assert "<script" not in page and page.count("&lt;script&gt;") >= 4


def test_outcomes_have_shapes_of_their_own() -> None:
    words = [
        "conformity",
        "nonconformity",
        "departure from practice",
        "not evidenced",
        "inconclusive",
        "not verifiable",
    ]
    told = [site_say.outcome(word) for word in words]
    assert len({t[0] for t in told}) == len(words) and all(t.endswith(w) for t, w in zip(told, words, strict=True))
