"""Pages of the inventory and the defect history."""
