"""What holds for every test."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)  # how long a test takes hangs on the machine
settings.load_profile("untimed")
