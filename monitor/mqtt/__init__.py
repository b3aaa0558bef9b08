"""The broker: a session with it, the intake that answers for its messages, one of our own."""
