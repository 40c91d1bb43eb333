"""The hand-written yardstick gives the same counts as the engine, else it would be none."""

from __future__ import annotations

import polars as pl

from auditor.check.tally import tally
from tests.benchmarks.bench_haul import STATES, rules_measured
from tests.benchmarks.big_record import big_record
from tests.benchmarks.peer import peer

KEYS = ["job", "rule", "code"]


def test_the_peer_counts_what_the_engine_counts() -> None:
    record = big_record(2_000, 6, STATES)
    engine = pl.concat(tally(record, rules_measured()).counts).group_by(KEYS).agg(pl.col("count").sum())
    types = {"code": pl.UInt8, "loads": pl.UInt64}
    hand = pl.concat([c.cast(types) for c in peer(record).counts]).group_by(KEYS).agg(pl.col("loads").sum())  # type: ignore[arg-type]
    both = engine.join(hand, on=KEYS, how="full", coalesce=True)
    assert both.filter(pl.col("count").cast(pl.UInt64).ne_missing(pl.col("loads"))).to_dicts() == []
    assert both["rule"].n_unique() > 70
