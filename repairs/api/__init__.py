"""The same for programs: decisions, jobs, estimates, job sheets."""
