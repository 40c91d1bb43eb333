"""What the views of fuel, notices, jobs and judgements say of an invented record; the sums stand beside the numbers."""

from __future__ import annotations

import polars as pl
import pytest

from auditor.check.views.site import SITE_BUILDERS
from auditor.vocabulary.ground import NOTICE_KINDS
from tests.check.site_record import DEFINITIONS, both, rows, tables_of

OIL, BURIED = both("oil_capacity_gal"), both("buried_capacity_gal")


def test_the_containers_of_each_place_together() -> None:
    # yard: 500 above ground and 100 that may be buried; the one place without a name: only a machine's own tank
    assert rows("fuel_sites", "site", *OIL, *BURIED, "spill_could_reach_water") == [
        ("yard", 500, 600, 0, 100, True), (None, 0, 0, 0, 0, True),
    ]  # fmt: skip
    assert rows("fuel_sites", "subject", *OIL, job="B") == [("B", 1000, 1000)]


def test_without_a_definition_no_container_counts_or_not() -> None:
    assert rows("fuel_sites", *OIL, *BURIED, definitions={}) == 2 * [4 * (None,)]


@pytest.mark.parametrize(("least", "capacity"), [(499, (500, 500)), (500, (500, 500)), (501, (0, 0))])
def test_a_container_counts_from_its_least_size_on(least: float, capacity: tuple[float, float]) -> None:
    tables = tables_of("A")
    one = tables["tanks"].filter(pl.col("tank") == "F1")
    found = SITE_BUILDERS["fuel_sites"]({**tables, "tanks": one}, {"spill_plan": {"least_gal": least}})
    assert found.select(OIL).rows() == [capacity]


def test_a_job_without_containers_has_no_row() -> None:
    assert SITE_BUILDERS["fuel_sites"](tables_of("A", "E"), DEFINITIONS)["job"].unique().to_list() == ["A"]


def test_containers_near_water() -> None:
    names = (*both("distance_from_bank_ft"), "distance_doubt_ft", "stream", "judged_on")
    # F1 stands nearest to right, which was measured by GPS
    assert rows("tanks", "tank", *names) == [
        ("F1", 200, 200, None, "S", "2024-03-05"), ("F2", None, None, 0, None, "2024-03-29"),
        ("F3", None, None, 0, None, "2024-03-29"),
    ]  # fmt: skip


def test_hours_until_a_spill_was_reported() -> None:
    # 08:00 to 07:00 of the next day is 23 h; noticed at any time of the 12th: 7 to 31 h
    assert rows("spills", "spill", *both("hours_to_report")) == [("P1", 23, 23), ("P2", 7, 31)]


def test_days_of_a_notice_against_the_operation() -> None:
    # start Monday 4 March; N1 on Thursday the 7th, N3 on Friday the 1st
    names = ("working_days_after_start", "days_after_start", "days_before_start")
    assert rows("notices", "notice", *names) == [("N1", 3, 3, -3), ("N2", None, None, None), ("N3", -1, -3, 3)]


def test_hours_of_a_notice_against_the_operation() -> None:
    # N1 tells of the start on 4 March 06:00; given on the 7th 12:00: 3 days and 6 h later = 78
    # entry at any time of 1 March: 6.5 days = 156 h, less up to 24; end on 28 March: 20.5 and 21.5 days to come
    # N3: 1 March 18:00 to any time of the 4th: 54 to 78; entry on its own day: -6 to 18
    names = (*both("hours_before_start"), *both("hours_after_entry"), *both("hours_after_end"))
    assert rows("notices", *names) == [
        (-78, -78, 132, 156, -516, -492), 6 * (None,), (54, 78, -6, 18, -654, -630),
    ]  # fmt: skip


def test_what_a_notice_does_not_state() -> None:
    # location and start are there, the acreage is not; blank contents say nothing
    names = ("notice_missing_count", "missing_contents")
    assert rows("notices", *names) == [(1, "acreage"), (None, None), (None, None)]
    assert rows("notices", *names, definitions={}) == 3 * [(None, None)]


def test_every_kind_of_notice_that_a_job_may_owe() -> None:
    found = rows("notice_duties", "notice_kind", *both("notice_count"), "harvested_acres")
    assert [r[0] for r in found] == list(NOTICE_KINDS)
    # two of the start, one of the end; that there is no other is not known
    assert found[:3] == [("harvest_start", 2, None, 60), ("harvest_end", 1, None, 60), ("change", 0, None, 60)]
    # the list of B is declared whole
    assert set(rows("notice_duties", *both("notice_count"), job="B")) == {(0, 0)}


def test_days_of_a_notice_against_what_it_tells_of() -> None:
    # N1 tells of Monday 4 March, given on Thursday the 7th; the others tell of no day of their own
    names = ("days_after_event", "working_days_after_event")
    assert rows("notices", "notice", *names) == [("N1", 3, 3), ("N2", None, None), ("N3", None, None)]
    # Friday the 8th to Tuesday the 12th: 4 days, 2 working days less the free 11th
    tables = dict(tables_of("A"))
    days = {"event_on": pl.date(2024, 3, 8), "given_on": pl.date(2024, 3, 12)}
    tables["notices"] = tables["notices"].with_columns(**days)
    assert SITE_BUILDERS["notices"](tables, DEFINITIONS).select(names).rows() == 3 * [(4, 1)]


def test_who_was_told_by_kind_of_notice() -> None:
    found = rows("notice_duties", "notice_kind", "told", "told_whole")
    # one of the two notices of the start names the county, the other nobody; the list is not declared whole
    assert found[:3] == [("harvest_start", ["county"], False), ("harvest_end", [], False), ("change", None, False)]
    assert set(map(str, rows("notice_duties", "told", "told_whole", job="B"))) == {"([], True)"}


def test_a_whole_list_with_a_blank_receiver_does_not_say_who_was_told() -> None:
    tables = dict(tables_of("A", "B"))
    tables["notices"] = tables["notices"].with_columns(job=pl.lit("B"))
    found = SITE_BUILDERS["notice_duties"](tables, DEFINITIONS).filter(pl.col("job") == "B")
    named = found.filter(pl.col("notice_kind").cast(pl.String).is_in(["harvest_start", "harvest_end", "change"]))
    assert named.select("told", "told_whole").rows() == [(["county"], False), ([], False), ([], True)]


@pytest.mark.parametrize(
    ("found_on", "years"),
    [
        # the operation starts on 4 March 2024
        ((2022, 3, 4), 2),
        ((2024, 3, 4), 0),
        ((2025, 3, 4), -1),
        (None, None),
    ],
)
def test_years_from_a_violation_to_the_start(found_on: tuple[int, int, int] | None, years: float | None) -> None:
    tables = dict(tables_of("A"))
    day = pl.lit(None, dtype=pl.Date) if found_on is None else pl.date(*found_on)
    tables["job"] = tables["job"].with_columns(violation_found_on=day)
    found = SITE_BUILDERS["notice_duties"](tables, DEFINITIONS)
    assert found["violation_to_start_years"].unique().to_list() == [years]


def test_the_notices_of_a_job_stand_beside_every_row_of_the_site() -> None:
    kinds = ["harvest_end", "harvest_start"]
    for view in ("stations", "segments", "tanks", "jobs", "disturbances"):
        assert rows(view, "notices_given", "notices_whole")[0] == (kinds, False)
    # in B none is listed and the list is declared whole; in E it is not
    assert rows("jobs", "notices_given", "notices_whole", job="B") == [([], True)]
    alone = SITE_BUILDERS["jobs"](tables_of("E"), DEFINITIONS)
    assert alone.select("notices_given", "notices_whole").rows() == [(None, False)]


def test_a_job_as_a_whole() -> None:
    # 25 March to 1 April
    assert rows("jobs", "days_reclaimed_after_plan", "job_region", "county") == [(7, "piedmont", "Union")]
    assert rows("jobs", "days_reclaimed_after_plan", "subject", job="B") == [(None, "B")]


def test_a_judgement_stands_beside_the_stream_of_its_place() -> None:
    assert rows("observations", "observation", "answer", "stream_class", "stream_kind") == [
        ("O1", "yes", "perennial", "stream"),  # of a bank
        ("O2", None, None, "lake_or_pond"),  # of a stream; could not tell
        ("O3", "no", "perennial", "stream"),  # of a crossing
        ("O4", "not_applicable", None, None),  # of a deck
        ("O5", None, None, None),  # of the whole job
    ]


def test_a_judgement_of_a_bank_counts_to_its_own_cutting() -> None:
    # 1 January to 20 March is 79 days, to the end of the operation on the 29th 88
    assert [r[0] for r in rows("observations", "days_since_classified")] == [79, None, 88, None, None]


def test_containers_with_their_bund_and_the_capacity_of_their_place() -> None:
    # yard: 500 that counts and 100 that may be buried; the one place without a name holds only a machine's own tank
    names = (*both("bund_gal"), *both("largest_in_bund_gal"), *both("site_capacity_gal"), "spill_could_reach_water")
    assert rows("tanks", "tank", *names) == [
        ("F1", None, None, 500, 500, 500, 600, True), ("F2", None, None, 100, 100, 500, 600, True),
        ("F3", None, None, 300, 300, 0, 0, True),
    ]  # fmt: skip
    assert rows("tanks", *both("site_capacity_gal"), definitions={}) == 3 * [(None, None)]
    tables = dict(tables_of("A"))
    tables["tanks"] = tables["tanks"].with_columns(bund=pl.lit("B"), containment_gal=pl.Series([600.0, None, None]))
    found = SITE_BUILDERS["tanks"](tables, DEFINITIONS).select(*both("bund_gal"), *both("largest_in_bund_gal"))
    # F1 and F2 share the bund of the yard; F3 stands elsewhere
    assert found.rows() == [(600, 600, 500, 500), (600, 600, 500, 500), (None, None, 300, 300)]


def test_a_lost_exemption_stands_beside_every_row_of_the_site() -> None:
    tables = dict(tables_of("A"))
    tables["job"] = tables["job"].with_columns(exemption_lost=pl.lit(True))
    for view in ("jobs", "decks", "stations", "notices"):
        assert SITE_BUILDERS[view](tables, DEFINITIONS)["exemption_lost"].unique().to_list() == [True]
