"""The soak: everything that can go wrong with a farm's monitor, one after another."""
