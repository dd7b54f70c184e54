"""Failed comparisons inside the helper module are shown in full."""

import pytest

pytest.register_assert_rewrite("bench_sample")
