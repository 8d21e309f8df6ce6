"""Slow work in a process of its own: one worker takes what waits, a fresh interpreter does each piece within its limits."""
