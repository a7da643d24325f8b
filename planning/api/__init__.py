"""The week's plan as an API."""
