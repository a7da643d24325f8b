"""Pages of disposition, repair estimates and job sheets."""
