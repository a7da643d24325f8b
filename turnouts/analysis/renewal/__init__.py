"""Weld a component again or put in a new one: what each costs by tonnage."""
