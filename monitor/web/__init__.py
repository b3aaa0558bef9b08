"""The pages and the programming interface: what a phone or a laptop sees."""
