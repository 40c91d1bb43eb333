"""Which gross limit held for each load: the lowest over its way."""

from __future__ import annotations

import polars as pl

from auditor.check.details import speaking_arm
from auditor.check.evaluate import Judged
from auditor.rules.compiled import Code

GROSS = "gross_weight_lb"


def governing_limits(judged: Judged) -> list[pl.DataFrame]:
    """For each rule that holds the gross weight against a limit, the rows it applies to.

    Columns: job, load, ticket_number, load_date, gross_weight_lb, limit, rule, limit_name, arm, state, road_class,
    road_name, code. The limit is null where it is not one number.
    """
    found = []
    for index, rule in enumerate(judged.rules):
        codes = judged.codes[str(index)]
        applies = codes != int(Code.NOT_APPLICABLE)
        for node in rule.must.tests():
            test = node.test
            if test is None or test.column != GROSS or test.op != "at_most" or test.limit_high is None:
                continue
            exact = pl.when(test.limit_low == test.limit_high).then(test.limit_high).cast(pl.Float64)
            arm = pl.lit(None, dtype=pl.String)
            if test.limit is not None:
                arm = speaking_arm(rule.ladders[test.limit], test.limit_high)
            part = judged.frame.with_columns(codes.alias("code")).filter(applies)
            found.append(
                part.select(
                    "job",
                    "load",
                    "ticket_number",
                    "load_date",
                    pl.col(GROSS).cast(pl.Float64),
                    exact.alias("limit"),
                    pl.lit(rule.key).alias("rule"),
                    pl.lit(test.limit, dtype=pl.String).alias("limit_name"),
                    arm.alias("arm"),
                    pl.col("state").cast(pl.String),
                    pl.col("road_class").cast(pl.String),
                    "road_name",
                    "code",
                )
            )
    return found
