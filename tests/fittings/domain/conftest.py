"""Property tests judge results, not the speed of the machine that runs them beside other work."""

from hypothesis import HealthCheck, settings

settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")
