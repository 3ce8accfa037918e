"""Settings that every test shares."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)  # machines differ; tests time nothing
settings.load_profile("unhurried")
