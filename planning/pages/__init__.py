"""The supervisor's pages."""
