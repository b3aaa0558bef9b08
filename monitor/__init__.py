"""Cormwatch: a second pair of eyes for sprouting rooms, tunnels and the walk-in cooler."""
