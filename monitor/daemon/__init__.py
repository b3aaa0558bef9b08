"""Builds every part and runs them together: the only wiring."""
