"""Writing down from a page or a phone's queue what became of a batch: once each."""
