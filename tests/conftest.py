"""What holds for all tests: examples that are tried are the same every time, and how long they take decides nothing.

Measurements that take minutes are made only with ``--benchmark-enable``.
"""

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "shared machines", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("shared machines")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out measurements that take minutes, unless benchmarks are run."""
    if not config.getoption("benchmark_enable"):
        long = [item for item in items if item.get_closest_marker("minutes")]
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
