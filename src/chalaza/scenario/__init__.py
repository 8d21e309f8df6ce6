"""Invented batches: a truth drawn or stated, and the evidence a keeper would have of it. Nothing here is a measurement."""
