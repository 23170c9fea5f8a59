"""What holds for all tests: examples that are tried are the same every time, and how long they take decides nothing."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "shared machines", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("shared machines")
