"""Limits that no one had looked at for long when the work was done."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from auditor.report.model import Limit, StaleLimit
from auditor.rules.statements import looked_at_long_ago


def stale_limits(limits: Iterable[Limit], day: date | None, months: int) -> list[StaleLimit]:
    """The limits last looked at more than `months` before a day, or on no known day, those of longest ago first.

    The day is that of the last load, or of a job without loads another; without one nothing can be said, and the list is empty.
    """
    if day is None:
        return []
    found = [
        StaleLimit(limit_key=limit.key, name=limit.title or limit.means, checked=limit.checked)
        for limit in limits
        if looked_at_long_ago(limit.checked, months, day)
    ]
    return sorted(found, key=lambda s: (s.checked or date.min, s.limit_key))
