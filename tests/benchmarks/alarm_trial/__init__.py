"""The alarm trial: coolers that are sound and coolers that die, and who would be woken."""
