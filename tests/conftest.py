"""Settings shared by all tests: repeatable hypothesis runs."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "repeatable",
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("repeatable")
