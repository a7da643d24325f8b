"""The only writers of the inventory and the defect history."""
