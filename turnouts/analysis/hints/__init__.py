"""What usually stands behind a defect, by rules of the trade, and what to look at next."""
