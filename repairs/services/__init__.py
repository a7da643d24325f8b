"""The only writers of decisions, repair jobs, estimates and job sheets."""
