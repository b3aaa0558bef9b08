"""Copies every reading to a time-series server: store and forward, and back again.

Measurement, tags and fields are described in ``config/mirror-queries.md``. The client library
is imported by ``sending`` and ``lines`` alone, and those only where a farm has a mirror.
"""
