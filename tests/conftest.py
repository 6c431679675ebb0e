"""What holds for every test: property tests have no clock, for a busy machine is not a fault of the code."""

from hypothesis import settings

settings.register_profile("bench", deadline=None)
settings.load_profile("bench")
