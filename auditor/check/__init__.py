"""Where record and rules meet: views, limits, comparisons, outcomes, roll-ups and findings."""
