"""Pages of setting up: places, machines, probes, parents, batches with their lots, stays and eggs, and how one reads."""
