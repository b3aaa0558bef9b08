"""The pages that change the farm's files: sensors, places, people, crops, and when to ring.

Each form carries the farm's digest as it was looked at and, beside each field, what stood in
it: only what was touched is changed, so that nobody's edit undoes another's.
"""
