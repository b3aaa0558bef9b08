"""Kinds of places."""

from enum import StrEnum


class PlaceKind(StrEnum):
    """Where plants, corms or stems are kept."""

    SPROUTING_ROOM = "sprouting_room"
    SOAK_BUCKET = "soak_bucket"
    COOLER = "cooler"
    TUNNEL = "tunnel"
    FIELD = "field"
    DRY_STORE = "dry_store"
