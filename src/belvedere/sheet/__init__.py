"""The field sheet and the plan's pictures: what to take along on paper."""
