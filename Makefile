# make demo    the demo railway, from nothing to a served site (SERVE=0 stops before serving)
# make bench-network  plans 6,000 jobs in 100 territories with 1 and 2 workers (ARGS="--territories 10")
# make test    every test (ARGS="-k frog" passes options to pytest)
PYTHON ?= $(shell command -v python3.11 || command -v python3)
BIN := .venv/bin
INSTALLED := .venv/installed.lock
# How many processes share the tests; 0 runs them in one.
WORKERS ?= 2
SERVE ?= 1
HOST ?= 127.0.0.1
PORT ?= 8000
export HOST PORT

.DEFAULT_GOAL := help
.PHONY: help setup demo bench-network test lint types imports migrations lock browser clean

help:
	@sed -n 's/^# make /make /p' Makefile

# The stamp is a copy of the lock file itself: set up again only when it differs.
setup:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info[:2] != (3, 11))' 2>/dev/null || { \
	  echo "Python 3.11 is needed; '$(PYTHON)' is not. Name it: make PYTHON=/path/to/python3.11" >&2; \
	  exit 1; }
	@cmp -s requirements.lock $(INSTALLED) || $(MAKE) --no-print-directory $(INSTALLED)

.PHONY: $(INSTALLED)
$(INSTALLED):
	@echo "Installing what requirements.lock lists into .venv"
	@test -x $(BIN)/python || $(PYTHON) -m venv --without-pip .venv
	@mkdir -p -m 700 .local && awk '/^[^ ]/ { ours = /^uv==/ } ours' requirements.lock > .local/uv.lock
	@test -x $(BIN)/uv || $(PYTHON) -m pip --python $(BIN)/python install --quiet \
	  --disable-pip-version-check --require-hashes --requirement .local/uv.lock
	@$(BIN)/uv pip sync --quiet --python $(BIN)/python --require-hashes requirements.lock
	@cp requirements.lock $(INSTALLED)

demo: setup
	@$(BIN)/python -m config.local demo $(if $(filter 0,$(SERVE)),--no-serve)

test: setup
	@$(BIN)/python -m pytest -n $(WORKERS) $(ARGS)

bench-network: setup
	@$(BIN)/python -m tests.benchmarks.network $(ARGS)

lint: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: setup
	$(BIN)/mypy turnouts repairs planning config

imports: setup
	$(BIN)/lint-imports

migrations: setup
	DJANGO_ENV=test $(BIN)/python manage.py makemigrations --check --dry-run

# Keeps the versions it can; delete the file first to take the newest of everything.
lock: setup
	$(BIN)/uv pip compile --quiet --python-version 3.11 --generate-hashes --no-header \
	  --no-emit-index-url --no-annotate pyproject.toml --group local --group dev \
	  --output-file requirements.lock

# The browser tests need Debian's Chromium; as root it is installed when missing.
browser:
	@if command -v chromium >/dev/null; then chromium --version; \
	elif [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq \
	    --no-install-recommends chromium fonts-dejavu-core >/dev/null; \
	else echo "Chromium is missing: install it, or name its program in CHROMIUM." >&2; exit 1; fi

# Everything the demo and the tests left behind; the virtual environment stays.
clean:
	@test ! -x $(BIN)/python || $(BIN)/python -m config.local clean
	@rm -rf .local static_collected .mypy_cache .pytest_cache .ruff_cache .import_linter_cache .hypothesis
