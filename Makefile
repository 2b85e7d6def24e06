# Everything a new machine needs is Python >= 3.11 (with venv), make and git.
# `make demo`, `make test` and `make quick` set themselves up: a virtual environment in .venv, packages by hash;
# `make demo` takes what users need, the others what developers need beside it.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
RUNS := $(VENV)/runs
READY := $(VENV)/ready

# Side by side on all cores; what a module makes once for its tests stays on one worker.
BESIDE := -n auto

.PHONY: setup demo test quick nights shipped corpus corpus-accept lint types check docs sample wheel lock clean

setup: $(READY)

# What runs the program: its own packages, and the builder that puts it beside them. A package is compiled
# when it is first used: most of what is installed never is, and would take a quarter more room.
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile

$(RUNS): requirements.lock requirements-build.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "soak needs Python 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(PIP) --require-hashes -r requirements.lock -r requirements-build.lock
	$(PIP) --no-build-isolation --no-deps -e .
	@touch $(RUNS)

# What tests and checks it stands beside that.
$(READY): $(RUNS) requirements-dev.lock
	$(PIP) --require-hashes -r requirements-dev.lock
	@touch $(READY)

demo: $(RUNS)
	$(BIN)/soak demo

test: $(READY)
	$(BIN)/python -m pytest $(BESIDE) -rs -m "not nights and not shipped"

quick: $(READY)
	$(BIN)/python -m pytest -n $$($(BIN)/python -c 'import os; print(os.cpu_count())') \
	  -m "not nights and not shipped and not slow"

nights: $(READY)
	$(BIN)/python -m pytest $(BESIDE) -rs -m nights

# The wheel, installed by the users' lock into a folder of its own, runs the demo there.
shipped: $(READY)
	$(BIN)/python -m pytest -rs -m shipped tests/shipped

# What the judge makes of the frozen corpus, difference by difference; the second expects it from now on.
corpus: $(READY)
	$(BIN)/python tests/corpus/freeze.py

corpus-accept: $(READY)
	$(BIN)/python tests/corpus/freeze.py --accept

lint: $(READY)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/lint-imports

types: $(READY)
	$(BIN)/mypy

check: test nights lint types shipped

docs: $(READY)
	$(BIN)/python docs/generate.py

sample: $(RUNS)
	$(BIN)/soak demo

# The same bytes whoever builds it, wherever.
wheel: $(RUNS)
	$(BIN)/python -m hatchling build -t wheel

# Makers of the project only: needs `uv`. No header and no index address, so the files are the same everywhere.
# The developers' lock is made first; what users and builders get is the same versions, less of them.
COMPILE := uv pip compile --quiet --universal --generate-hashes --no-header --no-annotate --no-emit-index-url \
  --python-version 3.11

lock:
	$(COMPILE) --group dev --all-extras pyproject.toml -o requirements-dev.lock
	$(COMPILE) -c requirements-dev.lock pyproject.toml -o requirements.lock
	$(COMPILE) -c requirements-dev.lock --group build -o requirements-build.lock

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache build dist
