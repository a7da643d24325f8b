"""The inventory and the defect history as an API."""
