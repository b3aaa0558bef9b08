"""A small farm made up in numbers: weather, rooms, tunnels, instruments and faults."""
