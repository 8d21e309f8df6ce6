"""Questions, one a module: pure functions from values to a frozen answer."""
