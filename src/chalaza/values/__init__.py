"""Frozen types that travel between the floors."""
