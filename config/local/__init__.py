"""Servers and a runner for the demo and the tests: never part of a production site."""
