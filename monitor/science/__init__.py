"""Pure numpy functions: the physics and the counting behind every answer."""
