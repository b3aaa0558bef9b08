"""What a person asks to have written down, in words: from a command, a page or a phone's queue.

Command and page give the same words under the same names, so that what may be recorded,
and what is said of a mistake, is one and the same.
"""

from monitor.batches.asked.reading import plan
from monitor.batches.asked.remarks import remarks
from monitor.batches.asked.words import Asked, Plan, crop_of

__all__ = ["Asked", "Plan", "crop_of", "plan", "remarks"]
