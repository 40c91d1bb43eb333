"""A lifelike report on an invented harvest site, made by hand: two streams, four banks, crossings, roads and trails."""

from __future__ import annotations

import hashlib
from datetime import date

from auditor.report.json_text import sealed
from auditor.report.model import (
    Conclusion,
    Coverage,
    Evidence,
    Finding,
    FixFirst,
    Item,
    JobReport,
    Judgement,
    Limit,
    MissingFact,
    OpenQuestion,
    PracticeScore,
    Report,
    RuleFileUsed,
    SubjectCounts,
    WalkOutcome,
    WalkStop,
)
from tests.report.sample_map import site_map_sample

WALKED = date(2026, 10, 1)
ZONE, DIP, BAR = (
    "us-xx/streamside/zone_width_ft/base",
    "us-xx/trails/dip_spacing_ft/base",
    "us-xx/trails/bar_spacing_ft/base",
)
WIDTH, COVER, OUTLET = "us-xx/streamside/zone-width", "us-xx/streamside/ground-cover", "us-xx/trails/turnout-outlet"
FILL, PIPE, DRAINS = "us-xx/crossings/fill-removed", "us-xx/crossings/pipe-size", "us-xx/trails/bar-spacing"
TITLES = {
    WIDTH: "Width of the streamside zone", COVER: "Bare ground in the zone", FILL: "Temporary fill taken out at the end",
    PIPE: "Size of the pipes of a crossing", DRAINS: "Distance between drains on skid trails",
    "us-xx/trails/dip-spacing": "Distance between drains on haul and access roads", OUTLET: "Turnouts empty onto the forest floor",
    "us-xx/streamside/trees-left": "Trees left in the zone", "us-xx/streamside/deck-distance": "Decks away from streams",
    "us-xx/crossings/angle": "Crossings square to the stream", "us-xx/decks/trash": "Decks left without trash",
    "us-xx/fuel/spills": "Spills cleaned up",
}  # fmt: skip


def _item(subject: str, measured: float | None = None, limit: float | None = None, **changes: object) -> Item:
    low = measured is not None and limit is not None and measured < limit
    values: dict[str, object] = {
        "subject": subject, "on": date(2026, 7, 3), "what": "", "vehicle": "", "destination": "", "measured": measured,
        "limit": limit, "unit": None if limit is None else "ft", "limit_key": ZONE, "tolerated": None, "tolerated_limit": None,
        "margin": None if measured is None or limit is None else abs(limit - measured), "to_mend": "", "also_on": 0,
        "boundary": "" if limit is None else "at least" if low else "at most", "source": "stations.csv, row 11",
    }  # fmt: skip
    return Item.model_validate(values | changes)


def _finding(number: int, rule: str, items: list[Item], subject: str, judged: int, **changes: object) -> Finding:
    subjects = len({item.subject for item in items})
    values: dict[str, object] = {
        "id": hashlib.sha256(rule.encode()).hexdigest()[:12], "number": number, "kind": "nonconformity", "grade": "minor",
        "confirmed": True, "second_hand": False, "rule": rule, "title": TITLES[rule], "place": "us-xx",
        "topic": rule.split("/")[1], "standing": "mandatory practice", "duty_of": "logger", "subject": subject,
        "subject_count": subjects, "tolerated_count": 0, "judged_count": judged, "caution": "",
        "worst": f"{subject} {items[0].subject}: {items[0].what or 'the whole of it'}",
        "summary": f"{subjects} of {judged} fall short.", "action": "Mend it before the crew leaves the tract.", "items": items,
    }  # fmt: skip
    return Finding.model_validate(values | changes)


def findings() -> list[Finding]:
    """Six findings: along banks, roads and trails with stations, of crossings and a deck without."""
    widths = [
        _item("AL-right", 16, 40, from_ft=300, to_ft=400, to_mend="24 ft more", what="station 4, right side, of ALDER"),
        _item("AL-left", 9, 40, from_ft=1250, to_ft=1350, to_mend="31 ft more", what="station 13, left side, of ALDER"),
        _item(
            "AL-right", 22, 40, from_ft=400, to_ft=480.5, to_mend="18 ft more", what="station 5, right side, of ALDER"
        ),
        _item("AL-right", 38, 40, from_ft=0, to_ft=100, to_mend="2 ft more", what="station 1, right side, of ALDER"),
    ]
    bars = [
        _item(
            "T1", 90, 80, from_ft=150, to_ft=240, limit_key=BAR, to_mend="1 more drain, at 195 ft", what="150 to 240 ft"
        ),
        _item(
            "T5",
            160,
            60,
            from_ft=40,
            to_ft=200,
            limit_key=BAR,
            to_mend="2 more drains, at 93 and 147 ft",
            what="40 to 200 ft",
        ),
        _item(
            "T1", 95, 80, from_ft=380, to_ft=475, limit_key=BAR, to_mend="1 more drain, at 428 ft", what="380 to 475 ft"
        ),
    ]
    return [
        _finding(1, WIDTH, widths, "bank", 4, grade="major", action="Leave the trees on the next bank; keep machines out.",
                 caution="A wider zone can hold for trout water."),
        _finding(2, COVER, [_item("FE-left", from_ft=620, to_ft=660, what="bare soil, 620 to 660 ft", limit_key=COVER)], "bank", 4,
                 kind="departure from practice", standing="voluntary practice", action="Seed and mulch the bare soil."),
        _finding(3, FILL, [_item("X2", what="of ALDER, fill removed: no", limit_key=FILL)], "crossing", 2, grade="major",
                 action="Lift the fill out of the channel and leave banks and bed as they were."),
        _finding(4, DRAINS, bars, "road or trail segment", 6, action="Build the missing drains."),
        _finding(5, OUTLET, [_item("R1", from_ft=350, what="drain 2, at 350 ft", limit_key=OUTLET, to_mend="lead it onto the forest floor")],
                 "road or trail segment", 2, confirmed=False),
        _finding(6, "us-xx/streamside/deck-distance", [_item("DK3", 28, 50, to_mend="22 ft farther", what="28 ft from ALDER")], "deck", 3),
    ]  # fmt: skip


def _outcome(rule: str, outcome: str = "conformity", finding: int | None = None) -> WalkOutcome:
    return WalkOutcome(rule=rule, title=TITLES[rule], standing="mandatory practice", outcome=outcome, finding=finding)


def _stop(topic: str, subject: str, name: str, where: str, outcomes: list[WalkOutcome], *judged: str) -> WalkStop:
    return WalkStop(topic=topic, subject=subject, name=name, where=where, outcomes=outcomes, judgements=list(judged))


def walk() -> list[WalkStop]:
    """Four topics, fifteen places; every outcome a place can have."""
    trees, angle, trash = "us-xx/streamside/trees-left", "us-xx/crossings/angle", "us-xx/decks/trash"
    wrong, dips = "nonconformity", "us-xx/trails/dip-spacing"
    trails = [
        _stop("trails", "road or trail segment", f"T{n}", f"skid trail, {100 * n + 210} ft, {4 + 2 * n} % slope",
              [_outcome(DRAINS, wrong if n in (1, 5) else "conformity", 4 if n in (1, 5) else None)], *(["O7"] if n == 5 else []))
        for n in range(1, 7)
    ]  # fmt: skip
    return [
        _stop("streamside", "bank", "AL-right", "perennial ALDER, right side, 2,060 ft",
              [_outcome(WIDTH, wrong, 1), _outcome(COVER), _outcome(trees, "not evidenced")], "O1", "O2"),
        _stop("streamside", "bank", "AL-left", "perennial ALDER, left side, 2,060 ft",
              [_outcome(WIDTH, wrong, 1), _outcome(COVER), _outcome(trees, "inconclusive")], "O3"),
        _stop("streamside", "bank", "FE-left", "intermittent FERN, left side, 980 ft",
              [_outcome(WIDTH), _outcome(COVER, "departure from practice", 2), _outcome(trees)], "O4"),
        _stop("streamside", "bank", "FE-right", "intermittent FERN, right side, 980 ft",
              [_outcome(WIDTH), _outcome(COVER), _outcome(trees, "not verifiable")]),
        _stop("crossings", "crossing", "X1", "culvert under R1, of ALDER", [_outcome(PIPE), _outcome(angle)], "O5"),
        _stop("crossings", "crossing", "X2", "dirt fill, of ALDER", [_outcome(FILL, wrong, 3), _outcome(angle)], "O6"),
        _stop("trails", "road or trail segment", "R1", "haul road, 1,840 ft", [_outcome(OUTLET, wrong, 5), _outcome(dips)]),
        *trails,
        _stop("decks", "deck", "DK1", "0.08 acres, Unit 2", [_outcome(trash)], "O8"),
        _stop("decks", "deck", "DK3", "at R1, 28 ft from ALDER", [_outcome("us-xx/streamside/deck-distance", wrong, 6), _outcome(trash)], "O9"),
    ]  # fmt: skip


def _judgement(name: str, question: str, answer: str, place: str, **changes: object) -> Judgement:
    values: dict[str, object] = {
        "name": name, "question": question, "practice": "", "category": "streamside_management_zones", "rule": "",
        "place_kind": "bank" if place else "job", "place": place, "answer": answer, "significant_risk": False, "reason": "",
        "role": "registered_forester", "observer": "F-07", "licence": "RF-1180", "observed_on": WALKED, "photo": "",
        "photo_latitude_deg": None, "photo_longitude_deg": None, "photo_on": None, "computed": "", "agrees": None,
        "source": f"observations.csv, row {int(name[1:]) + 1}",
    }  # fmt: skip
    return Judgement.model_validate(values | changes)


def judgements() -> list[Judgement]:
    """Eleven judgements: agreeing, disagreeing, with nothing computed beside them, open, of the whole job."""
    photo = {
        "photo": "IMG_0416.jpg",
        "photo_latitude_deg": 34.8161,
        "photo_longitude_deg": -83.1016,
        "photo_on": WALKED,
    }
    crossings, roads = (
        {"category": "stream_crossings", "place_kind": "crossing"},
        {"category": "forest_roads", "place_kind": "segment"},
    )
    decks = {"category": "harvesting", "place_kind": "deck"}
    return [
        _judgement("O1", "sediment_confined_to_zone", "no", "AL-right", rule=WIDTH, computed="nonconformity", agrees=True,
                   significant_risk=True, reason="fan of sediment to the water below station 4", practice="SMZ 3", **photo),
        _judgement("O2", "ground_cover_holds_soil", "no", "AL-right", rule=COVER, computed="conformity", agrees=False,
                   reason="litter gone on the lower 60 ft, seen after the plots were taken"),
        _judgement("O3", "zone_width_kept", "yes", "AL-left", rule=WIDTH, computed="nonconformity", agrees=False,
                   reason="paced, not taped"),
        _judgement("O4", "shade_kept", "could_not_tell", "FE-left", reason="leaves were down already", significant_risk=None),
        _judgement("O5", "fill_stabilised", "yes", "X1", **crossings),
        _judgement("O6", "temporary_fill_removed", "no", "X2", rule=FILL, computed="nonconformity", agrees=True,
                   significant_risk=True, reason="poles and brush still in the channel", photo="IMG_0413.jpg", **crossings),
        _judgement("O7", "outlets_clear_of_water", "yes", "T5", rule=DRAINS, computed="nonconformity", agrees=False, **roads),
        _judgement("O8", "deck_reshaped", "yes", "DK1", **decks),
        _judgement("O9", "trash_removed", "no", "DK3", rule="us-xx/decks/trash", computed="conformity", agrees=False,
                   reason="oil filters left beside the deck", **decks),
        _judgement("O10", "crossings_fewest", "yes", "", category="stream_crossings"),
        _judgement("O11", "spills_cleaned", "not_applicable", "", category="chemical_application", observer="", licence="",
                   role="logger", observed_on=None, rule="us-xx/fuel/spills", computed="not evidenced"),
    ]  # fmt: skip


def scores() -> list[PracticeScore]:
    """By the judgements above. Percent = 100 x yes / (yes + no + open): 1 / 4 and 2 / 4 of zones, 2 / 3 of crossings ..."""
    report_2023 = "2023, implementation report of the example state's forestry commission"

    def score(
        category: str,
        yes: int,
        no: int,
        left_open: int,
        idle: int,
        low: float | None,
        high: float | None,
        **more: object,
    ) -> PracticeScore:
        return PracticeScore.model_validate(
            {"category": category, "yes_count": yes, "no_count": no, "open_count": left_open, "not_applicable_count": idle,
             "low_pct": low, "high_pct": high, "margin_pct": None, "risk_count_low": 0, "risk_count_high": 0,
             "published_pct": None, "published": "", **more}
        )  # fmt: skip

    return [
        score("streamside_management_zones", 1, 2, 1, 0, 25.0, 50.0, risk_count_low=1, risk_count_high=2,
              published_pct=95.2, published=report_2023),
        score("stream_crossings", 2, 1, 0, 0, 200 / 3, 200 / 3, risk_count_low=1, risk_count_high=1, published_pct=89.0,
              published=report_2023),
        score("forest_roads", 1, 0, 0, 0, 100.0, 100.0, published_pct=93.4, published=report_2023),
        score("harvesting", 1, 1, 0, 0, 50.0, 50.0),
        score("chemical_application", 0, 0, 0, 1, None, None),
        score("all", 5, 4, 1, 1, 50.0, 60.0, margin_pct=31.6, risk_count_low=2, risk_count_high=3, published_pct=94.1,
              published=report_2023),
    ]  # fmt: skip


def _counts(subject: str, count: int, conforming: int, wrong: int, blank: int = 0) -> SubjectCounts:
    return SubjectCounts(
        subject=subject,
        count=count,
        conforming=conforming,
        with_nonconformity=wrong,
        only_tolerated=0,
        not_evidenced=blank,
    )


def _limit(key: str, means: str, value: float | None, verified: str = "read") -> Limit:
    return Limit.model_validate(
        {"key": key, "means": means, "value": value, "unit": None if value is None else "ft", "title": None,
         "form": "requirement" if value is None else "limit", "instrument": "Forestry practices of the example state", "at": "ch. 3",
         "seen": "text of 2019 on the commission's site", "verified": verified, "checked": date(2026, 4, 20),
         "in_force_from": None, "in_force_until": None}
    )  # fmt: skip


def _conclusion() -> Conclusion:
    return Conclusion(
        status="nonconformities",
        sentences=["The records show 2 banks of 4, 1 crossing of 2, 2 road or trail segments of 8, 1 deck of 3 outside a requirement.",
                   "1 finding rests on a limit that no one has confirmed; it is counted apart."],
        counts=[_counts("bank", 4, 1, 2, 1), _counts("crossing", 2, 1, 1), _counts("road or trail segment", 8, 5, 2), _counts("deck", 3, 2, 1)],
        major_count=2, minor_count=2, departure_count=1, unconfirmed_count=1,
    )  # fmt: skip


def site_job() -> JobReport:
    """The sample site."""
    return JobReport(
        job="ALDER-1", title="Alder Fork tract, close-out walk", contractor="Example Timber Company", state="US-SC",
        operation_start=date(2026, 5, 11), operation_end=date(2026, 9, 30), first_load=None, last_load=None,
        conclusion=_conclusion(), fix_first=[
            FixFirst(finding=1, text="Width of the streamside zone: Keep machines out and cover bare soil", how_much="up to 31 ft short"),
            FixFirst(finding=3, text="Lift the fill out of the channel", how_much="1 of 2 crossings"),
            FixFirst(finding=4, text="Build three drains", how_much="2 of 6 segments"),
        ],
        findings=findings(), missing=[
            MissingFact(fact="plots.dbh_in", meaning="diameters of the trees left", subject="bank", subject_count=1, job_subject_count=4,
                        rules=["us-xx/streamside/trees-left"], demanded_by_law=False, samples=["AL-right"], todo="Take two plots on the bank."),
        ],
        open_questions=[
            OpenQuestion(kind="inconclusive", rule="us-xx/streamside/trees-left", title=TITLES["us-xx/streamside/trees-left"],
                         reason="The limit lies inside the uncertainty of the plots.", subject="bank", subject_count=1, samples=["AL-left"]),
        ],
        allowances=[], weights=[], coverage=[
            Coverage(rule=rule, title=title, place="us-xx", topic=rule.split("/")[1], standing="mandatory practice", subject="bank",
                     conformity=n % 3 + 1, nonconformity=n % 2, not_evidenced=0, inconclusive=0, not_verifiable=0, not_applicable=n % 4, rows_judged=8 * n + 9)
            for n, (rule, title) in enumerate(TITLES.items())
        ],
        walk=walk(), judgements=judgements(), scores=scores(), map=site_map_sample(), not_covered=["county ordinances on stream buffers"],
        limits=[_limit(ZONE, "width of the streamside zone", 40), _limit(BAR, "distance between drains on skid trails", None),
                _limit(OUTLET, "turnouts empty onto the forest floor", None, "memory"), _limit(FILL, "fill is taken out at the end", None), _limit(COVER, "bare soil in the zone is covered", None)],
        evidence=[
            Evidence(path=f"{name}.csv", sha256=hashlib.sha256(name.encode()).hexdigest(), size_bytes=2310, row_count=14, tables=[name])
            for name in ("streams", "banks", "stations", "crossings", "segments", "decks", "observations")
        ],
        notes=["12 distances converted from metres"],
    )  # fmt: skip


def site_report() -> Report:
    """The report on the sample site."""
    text = "id: us-xx/streamside\ntitle: Streamside zones in the example state\n"
    return sealed(
        Report(
            schema_name="harvest audit report 1", engine_version="0.1.0", audit_date=date(2026, 10, 6), jobs=[site_job()], digest="",
            rules=[RuleFileUsed(id="us-xx/streamside", title="Streamside zones in the example state", place="us-xx", topic="streamside",
                                sha256=hashlib.sha256(text.encode()).hexdigest(), text=text)],
            cautions=["Widths are as the crew taped them."],
        )
    )  # fmt: skip
