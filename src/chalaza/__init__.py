"""Chalaza: bring a batch of fertile eggs through a bench-top incubator, reasoning from the keeper's own evidence."""

__version__ = "0.1.0"
