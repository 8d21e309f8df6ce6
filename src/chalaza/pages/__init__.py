"""The pages: they look up, call, fill a frozen page value and show it."""
