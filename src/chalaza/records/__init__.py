"""The notebook: the only database. Models, every change through `acts`, readings in `series`, answers kept in `answers`."""
