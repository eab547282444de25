"""Property tests depend neither on the clock nor on chance: the same examples everywhere."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "same-everywhere",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("same-everywhere")
