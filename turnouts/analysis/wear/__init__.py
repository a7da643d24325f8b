"""Wear of measured quantities against tonnage: lines, bands, and when a limit is reached."""
