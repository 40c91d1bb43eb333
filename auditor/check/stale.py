"""Limits that no one had looked at for long when the loads were hauled."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from auditor.report.model import Limit, StaleLimit
from auditor.rules.statements import looked_at_long_ago


def stale_limits(limits: Iterable[Limit], last_load: date | None, months: int) -> list[StaleLimit]:
    """The limits last looked at more than `months` before the last load, or on no known day, those of longest ago first.

    Without a day of the last load nothing can be said, and the list is empty.
    """
    if last_load is None:
        return []
    found = [
        StaleLimit(limit_key=limit.key, name=limit.title or limit.means, checked=limit.checked)
        for limit in limits
        if looked_at_long_ago(limit.checked, months, last_load)
    ]
    return sorted(found, key=lambda s: (s.checked or date.min, s.limit_key))
