# Two commands do all set-up: `make demo` and `make test`. Needed: python3.11 with pip, and make.
.DEFAULT_GOAL := help
.PHONY: help demo serve test check bench docs soak format lock words clean

PYTHON ?= python3.11
BIN := .venv/bin
STAMP := $(shell cat pyproject.toml requirements.lock requirements-dev.lock | cksum | cut -d' ' -f1)
RUN := .venv/.run-$(STAMP)
DEV := .venv/.dev-$(STAMP)
# Who has the tools to work on the program can run it as well.
READY := $(or $(wildcard $(DEV)),$(RUN))
# One thread per process: the tests run two processes, and results must not depend on the number of cores.
QUIET := env -u PYTHONPATH OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1

help:  ## what can be made
	@sed -n 's/^\([a-z]*\):.*## /make \1\t/p' Makefile

# PORT and CHALAZA_HOME, given to make or to its environment, reach the program as variables.
demo: $(READY)  ## an invented notebook in your browser; PORT=9000 and CHALAZA_HOME=DIR say where
	@$(QUIET) $(BIN)/chalaza demo

serve: $(READY)  ## your own notebook in your browser; PORT and CHALAZA_HOME likewise
	@$(QUIET) $(BIN)/chalaza serve

test: $(DEV)  ## everything CI runs, with its time against the budget
	@$(QUIET) $(BIN)/python tools/run_parts.py

check: $(DEV)  ## format, lint, types, contracts, locks and documents
	@$(QUIET) $(BIN)/python tools/run_parts.py checks

bench: $(DEV)  ## speed against stated bounds
	@$(QUIET) $(BIN)/python bench

docs: $(DEV)  ## the manual in docs/_build/html, its examples run
	@$(QUIET) $(BIN)/python tools/run_parts.py manual

soak: $(DEV)  ## the long form of the tests
	@$(QUIET) $(BIN)/python -m pytest -n 2 -m soak
	@$(QUIET) $(BIN)/python -m pytest -n 2 -m "not coverage and not soak" --hypothesis-profile soak

format: $(DEV)  ## put the code in form
	@$(BIN)/ruff format && $(BIN)/ruff check --fix

lock: $(DEV)  ## both locks after pyproject.toml, without any address; UPGRADE=--upgrade for newer versions
	$(BIN)/uv pip compile -q $(UPGRADE) pyproject.toml --group build --universal --generate-hashes --no-header -o requirements.lock
	$(BIN)/uv pip compile -q $(UPGRADE) pyproject.toml --group build --group dev -c requirements.lock --universal --generate-hashes --no-header -o requirements-dev.lock

words: $(DEV)  ## texts to translate, catalogs brought up to date with them and compiled
	@$(QUIET) $(BIN)/python tools/collect_words.py
	@$(QUIET) $(BIN)/python tools/build_catalogs.py

clean:  ## take away what was made
	rm -rf .venv .tools demo docs/_build build dist .coverage .mypy_cache .ruff_cache .import_linter_cache .hypothesis

$(RUN):
	@PYTHON=$(PYTHON) sh tools/environment.sh requirements.lock $@

$(DEV):
	@PYTHON=$(PYTHON) sh tools/environment.sh requirements-dev.lock $@
