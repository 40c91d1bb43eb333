"""A lifelike report made by hand: one job of 150 loads with eight findings, and a run over many jobs."""

from __future__ import annotations

import hashlib
import random
from datetime import date, timedelta

from auditor.report.json_text import sealed
from auditor.report.model import (
    AllowanceUsed,
    Conclusion,
    Coverage,
    Evidence,
    Finding,
    FixFirst,
    Item,
    JobReport,
    Limit,
    MissingFact,
    OpenQuestion,
    Report,
    RuleFileUsed,
    SubjectCounts,
    WeightPoint,
)

FIRST_DAY = date(2026, 3, 2)
GROSS, PERMIT, INTERSTATE, TANDEM = (
    "us-xx/weight/gross_limit_lb/base",
    "us-xx/weight/gross_limit_lb/harvest-permit",
    "us/weight/interstate_gross/base",
    "us-xx/weight/tandem_limit_lb/base",
)
LONG_WORD = "Loblollypineplantationthinningandsalvagecontract2026-0000417"


def weight_points() -> list[WeightPoint]:
    """150 loads on weekdays, 3 to 6 a day, each with its limit."""
    rng = random.Random(20260302)
    points: list[WeightPoint] = []
    day = FIRST_DAY
    while len(points) < 150:
        for _ in range(0 if day.weekday() >= 5 else rng.randint(3, 6)):
            if len(points) == 150:
                break
            ticket = f"{10230 + len(points)}"
            limit, key, where = rng.choice(
                [(80000.0, INTERSTATE, "Interstate 99"), (84000.0, GROSS, "State route 14")] * 3
                + [(88000.0, PERMIT, "State route 14"), (56000.0, GROSS, "posted bridge, Mill Creek")]
            )
            gross: float | None = float(round(rng.gauss(limit - 2900, 2300) / 20) * 20)
            if rng.random() < 0.06:
                gross = None
            points.append(
                WeightPoint(
                    ticket=ticket, on=day, gross_lb=gross, limit_lb=limit, limit_key=key, where=where,
                    state=_state(gross, limit, key),
                )
            )  # fmt: skip
        day += timedelta(days=1)
    return points


def _state(gross: float | None, limit: float, key: str) -> str:
    if gross is None:
        return "not shown"
    if gross <= limit:
        return "inside by allowance" if key == PERMIT and gross > 84000 else "inside"
    return "over, tolerated" if key == GROSS and gross <= limit * 1.03 else "over"


def limits() -> list[Limit]:
    """Limits with every mark of verification, dated and undated, with and without a number."""
    common = {"seen": "code as published on the state's site, edition of 2025", "checked": date(2026, 4, 20)}
    return [
        Limit(key=GROSS, means="gross weight on state routes", value=84000, unit="lb", form="limit", title=None,
              instrument="Code of Example 40-6-26", at="(c)(1)", verified="read", in_force_from=date(2019, 7, 1),
              in_force_until=None, **common),
        Limit(key=PERMIT, means="gross weight on state routes", value=88000, unit="lb", form="permit",
              title="Harvest permit", instrument="Code of Example 40-6-27", at="(a)", verified="secondary",
              in_force_from=date(2023, 7, 1), in_force_until=date(2028, 6, 30),
              note="a haulers' handbook reports the ten percent; the section itself was not seen", **common),
        Limit(key=INTERSTATE, means="gross weight on the Interstate System", value=80000, unit="lb", form="limit",
              title=None, instrument="23 U.S.C. 127", at="(a)(2)", verified="read", in_force_from=None,
              in_force_until=None, **common),
        Limit(key=TANDEM, means="weight of a tandem axle", value=34000, unit="lb", form="limit", title=None,
              instrument="Code of Example 40-6-26", at="(d)", verified="memory", in_force_from=None,
              in_force_until=None, seen="not seen", checked=None),
        Limit(key="us/securement/tiedowns/tiedown-count", means="each stack is held by two tiedowns at least",
              value=None, unit=None, form="requirement", title=None, instrument="49 CFR 393.116", at="(e)",
              verified="read", in_force_from=date(2004, 1, 1), in_force_until=None, **common),
        Limit(key="us/securement/strength_share/base", means="aggregate strength as a share of the stack's weight",
              value=1 / 6, unit="share", form="limit", title=None, instrument="49 CFR 393.116", at="(b)(3)",
              verified="read", in_force_from=date(2004, 1, 1), in_force_until=None, **common),
        Limit(key="us-xx/size/length_limit_ft/base", means="length of the load and vehicle", value=75.5, unit="ft",
              form="limit", title=None, instrument="Code of Example 40-6-24", at=None, verified="secondary",
              in_force_from=date(2020, 1, 1), in_force_until=None, **common),
    ]  # fmt: skip


def _item(place: int, **changes: object) -> Item:
    gross = 84020.0 + 160 * place
    values: dict[str, object] = {
        "subject": f"{10231 + 3 * place}", "on": FIRST_DAY + timedelta(days=place), "what": "", "measured": gross,
        "vehicle": f"truck {4 + place % 3}, trailer T{1 + place % 4}", "destination": "Cedar Bend sawmill",
        "limit": 84000.0, "unit": "lb", "margin": gross - 84000.0, "boundary": "at most", "limit_key": GROSS,
        "tolerated": gross <= 86520, "tolerated_limit": 86520.0, "to_mend": f"{gross - 84000:,.0f} lb less wood",
        "also_on": place % 3, "source": f"tickets/scale_tickets_march.xlsx, sheet Loads, row {14 + place}",
    }  # fmt: skip
    return Item.model_validate(values | changes)


def _finding(number: int, title: str, items: list[Item], **changes: object) -> Finding:
    values: dict[str, object] = {
        "id": hashlib.sha256(title.encode()).hexdigest()[:12], "number": number, "kind": "nonconformity",
        "grade": "major", "confirmed": True, "second_hand": False, "rule": f"us-xx/weight/rule-{number}",
        "title": title, "place": "us-xx", "topic": "weight", "standing": "statute", "duty_of": "carrier",
        "subject": "load", "subject_count": len(items), "tolerated_count": 0, "judged_count": 150,
        "worst": f"ticket {items[0].subject}: 4,660 lb over 84,000 lb",
        "summary": f"{len(items)} of 150 loads went past the limit, by 4,660 lb at most.",
        "action": "Load to the lower of the limits on the way, and weigh before the truck leaves the landing.",
        "caution": "A posted bridge or a permit condition can set a lower limit.", "items": items,
    }  # fmt: skip
    return Finding.model_validate(values | changes)


def findings() -> list[Finding]:
    """Eight findings: many items and few, with and without numbers, every kind and mark."""
    gross = [_item(place) for place in reversed(range(30))]
    bare = {"measured": None, "limit": None, "unit": None, "margin": None, "boundary": "", "tolerated": None,
            "tolerated_limit": None}  # fmt: skip
    stacks = [
        _item(p, what=f"stack {1 + p % 2}", limit_key="us/securement/tiedowns/tiedown-count", to_mend="one more tiedown",
              source=f"securement.csv, row {7 + p}", **bare)
        for p in range(6)
    ]  # fmt: skip
    axles = [
        _item(p, what="axles 2-3 on State route 14", measured=34420.0 + 100 * p, limit=34000.0, margin=420.0 + 100 * p,
              limit_key=TANDEM, tolerated=None, tolerated_limit=None, to_mend="move wood forward")
        for p in range(14)
    ]  # fmt: skip
    share = [
        _item(2, what="stack 1", measured=0.125, limit=1 / 6, margin=1 / 6 - 0.125, unit="share", boundary="at least",
              limit_key="us/securement/strength_share/base", tolerated=None, tolerated_limit=None,
              to_mend="tiedowns with 2,100 lb more working load limit in all")
    ]  # fmt: skip
    length = [
        _item(p, measured=76.25 + p, limit=75.5, unit="ft", margin=0.75 + p, tolerated=None, tolerated_limit=None,
              limit_key="us-xx/size/length_limit_ft/base", to_mend="buck the longest stems", vehicle=LONG_WORD)
        for p in range(3)
    ]  # fmt: skip
    return [
        _finding(1, "Gross weight on state routes", gross, tolerated_count=16, rule="us-xx/weight/gross-state-route"),
        _finding(2, "Number of tiedowns on each stack", stacks, topic="securement", duty_of="driver",
                 worst="ticket 10231: one tiedown on stack 1, two at least",
                 rule="us/securement/tiedowns/tiedown-count", place="us", standing="regulation",
                 summary="6 of 150 loads had a stack with fewer than two tiedowns."),
        _finding(3, "Aggregate strength of the tiedowns", share, topic="securement", standing="regulation", place="us",
                 worst="ticket 10237: 0.125, at least 0.167", summary="1 of 41 loads was held too weakly.",
                 judged_count=41),
        _finding(4, "Permit shown for the overweight load", [_item(9, **bare, limit_key=None, to_mend="")],
                 worst="ticket 10258: no permit of that day", summary="1 of 150 loads ran without a permit shown."),
        _finding(5, "Tandem axle weight", axles, grade="minor", confirmed=False, worst="ticket 10270: 1,720 lb over",
                 summary="14 of 38 loads went past the limit, by 1,720 lb at most.", judged_count=38),
        _finding(6, "Length of load and vehicle", length, grade="minor", second_hand=True, topic="size",
                 worst="ticket 10237: 2.75 ft too long", summary="3 of 150 loads were too long, by 2.75 ft at most."),
        _finding(7, "Warning flag on the projecting load", [_item(4, **bare, to_mend="a red flag at the rear end")],
                 kind="departure from practice", grade="minor", standing="voluntary practice", duty_of="driver",
                 worst="ticket 10243: no flag", summary="1 of 12 loads had no flag.", judged_count=12),
        _finding(8, "Ticket shows the certified scale", [_item(5, **bare, to_mend="")], grade="minor", topic="tickets",
                 kind="opportunity for improvement", worst="ticket 10246: scale not named", duty_of="logger",
                 summary="1 of 150 tickets does not name its scale.", caution=""),
    ]  # fmt: skip


def missing() -> list[MissingFact]:
    """A fact blank everywhere, one blank here and there, one the law demands."""
    return [
        MissingFact(fact="axle_weights.weight_lb", meaning="weight of each axle", subject="load", subject_count=112, job_subject_count=150,
                    rules=["us-xx/weight/tandem", "us-xx/weight/single-axle", "us/weight/bridge-formula"],
                    demanded_by_law=False, samples=[f"{10230 + n}" for n in range(9)],
                    todo="Ask the mill for the axle weights, or weigh by axle at a certified scale."),
        MissingFact(fact="documents.valid_until", meaning="last day of validity of the permit", subject="load", subject_count=150,
                    job_subject_count=150, rules=["us-xx/weight/harvest-permit"], demanded_by_law=True,
                    samples=["10230"], todo="Copy the last day from the permit."),
        MissingFact(fact="loads.gross_weight_lb", meaning="gross weight on the ticket", subject="load", subject_count=1, job_subject_count=150,
                    rules=["us-xx/weight/gross-state-route"], demanded_by_law=True, samples=["10277"],
                    todo="Ask the mill for a copy of the ticket."),
    ]  # fmt: skip


def coverage() -> list[Coverage]:
    """Two dozen rules."""
    return [
        Coverage(rule=f"us-xx/{topic}/rule-{n}", title=f"{topic.capitalize()} requirement {n} of the example state",
                 place="us-xx", topic=topic, standing="statute" if n % 2 else "regulation", conformity=150 - 7 * n,
                 nonconformity=n % 3, not_evidenced=4 * n, inconclusive=n % 2, not_verifiable=0,
                 not_applicable=3 * n - n % 3 - n % 2)
        for topic in ("weight", "securement", "size", "tickets") for n in range(1, 7)
    ]  # fmt: skip


def evidence() -> list[Evidence]:
    """Files of the record, one with a long path."""
    named = [("job.yaml", ["job", "destinations", "documents"], 14),
             ("tickets/scale_tickets_march.xlsx", ["loads", "axle_weights"], 150),
             ("securement.csv", ["stacks", "tiedowns"], 84),
             (f"maps and permits/{LONG_WORD}/routes_and_posted_bridges.csv", ["routes", "legs"], 1)]  # fmt: skip
    return [
        Evidence(path=path, sha256=hashlib.sha256(path.encode()).hexdigest(), size_bytes=913 * (n + 1) ** 6,
                 row_count=rows, tables=tables)
        for n, (path, tables, rows) in enumerate(named)
    ]  # fmt: skip


def conclusion() -> Conclusion:
    """What the sample job shows."""
    return Conclusion(
        status="nonconformities",
        sentences=[
            "38 of 150 loads show at least one nonconformity; 16 of them lie inside an enforcement tolerance only.",
            "For 112 loads not every requirement could be judged, because a fact is blank.",
            "One finding rests on a limit that is unconfirmed; it is counted apart.",
        ],
        counts=[SubjectCounts(subject="load", count=150, conforming=21, with_nonconformity=38, only_tolerated=16, not_evidenced=112)],
        major_count=4, minor_count=1, departure_count=1, unconfirmed_count=1,
    )  # fmt: skip


def job_report(job: str = "PINE-07") -> JobReport:
    """The sample job."""
    points = weight_points()
    return JobReport(
        job=job, title="Pine Ridge tract, second thinning", contractor="Example Timber Company", state="US-GA",
        operation_start=date(2026, 2, 23), operation_end=date(2026, 4, 24), first_load=points[0].on,
        last_load=points[-1].on, conclusion=conclusion(), fix_first=[
            FixFirst(finding=1, text="Load lighter for State route 14", how_much="up to 4,660 lb (2.3 tons) less"),
            FixFirst(finding=2, text="Put a second tiedown on every stack", how_much="6 loads, one tiedown each"),
            FixFirst(finding=0, text="Get the axle weights from the mill", how_much="112 of 150 loads"),
        ],
        findings=findings(), missing=missing(), open_questions=[
            OpenQuestion(kind="inconclusive", rule="us-xx/size/width", title="Width of the load", subject="load", subject_count=3,
                         reason="The limit lies inside the uncertainty of the reading.",
                         samples=["10240", "10251", "10262"]),
            OpenQuestion(kind="not verifiable", rule="us/securement/inspection", title="Check of the load on the way",
                         reason="The act leaves no record.", subject="load", subject_count=150, samples=["10230"]),
        ],
        allowances=[
            AllowanceUsed(rule="us-xx/weight/gross-state-route", limit_key=PERMIT, title="Harvest permit",
                          form="permit", subject="load", subject_count=7, highest=87240, unit="lb"),
        ],
        weights=points, coverage=coverage(), not_covered=["county road bonds in Example County"], limits=limits(),
        evidence=evidence(), notes=["150 weights converted from tons, rounded to 20 lb as on the ticket"],
    )  # fmt: skip


def empty_job(job: str) -> JobReport:
    """A job in which nothing was found and nothing could be drawn."""
    told = Conclusion(
        status="nothing found", sentences=["No load shows a nonconformity."], counts=[SubjectCounts(subject="load", count=1, conforming=1, with_nonconformity=0, only_tolerated=0, not_evidenced=0)],
        major_count=0, minor_count=0,
        departure_count=0, unconfirmed_count=0,
    )  # fmt: skip
    return JobReport(
        job=job, title="", contractor="", state="US-GA", operation_start=None, operation_end=None, first_load=None,
        last_load=None, conclusion=told, fix_first=[], findings=[], missing=[], open_questions=[], allowances=[],
        weights=[], coverage=coverage()[:2], not_covered=[], limits=limits()[:1], evidence=evidence()[:1], notes=[],
    )  # fmt: skip


def _report(jobs: list[JobReport], audit_date: date | None) -> Report:
    text = "id: us-xx/weight\ntitle: Weight in the example state\n"
    return sealed(
        Report(
            schema_name="harvest audit report 1", engine_version="0.1.0", audit_date=audit_date, jobs=jobs, digest="",
            rules=[
                RuleFileUsed(id="us-xx/weight", title="Weight in the example state", place="us-xx", topic="weight",
                             sha256=hashlib.sha256(text.encode()).hexdigest(), text=text),
            ],
            cautions=["Weights are as the tickets give them; no scale was tested.",
                      "Limits of posted roads hold only where the record names the road."],
        )
    )  # fmt: skip


def one_job() -> Report:
    """The report of a single job."""
    return _report([job_report()], date(2026, 5, 4))


def many_jobs() -> Report:
    """Five jobs, two of them with findings."""
    names = ["OAK-01", LONG_WORD, "ASH-03"]
    return _report([job_report(), job_report("ELM-11"), *map(empty_job, names)], None)
