# Everything is set up by itself in .venv, and again only when a lock file or pyproject.toml changes.
# What is said while setting up goes to standard error, so that `make demo` prints the demo's own
# lines on standard output and nothing else.

VENV := .venv
BIN := $(VENV)/bin
PY := $(BIN)/python
RUNTIME := $(VENV)/.runtime-ready
DEV := $(VENV)/.dev-ready

# The first of these that is Python 3.11 or newer makes .venv; `make PYTHON=/path/to/python3` overrides.
PYTHON :=
PYTHONS := $(PYTHON) python3 python3.13 python3.12 python3.11 python

ARGS :=
# More than two cores have: much of a run waits for browsers, children and disks.
WORKERS := 4
UPGRADE :=
TESTS := tests
PIP := $(PY) -m pip --disable-pip-version-check --no-input -qq
FROM_LOCK := $(PIP) install --require-hashes
# The build backend is locked too, so nothing is fetched here.
PROJECT := $(PIP) install --no-deps --no-index --no-build-isolation --editable .
COMPILE = $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--no-emit-index-url --no-strip-extras --custom-compile-command "make lock" $(UPGRADE)


# Make says nothing on standard output either (before make 4.4, as long as it is not itself run by
# another make, which is why the tests are run without make's own variables).
MAKEFLAGS += --no-print-directory
PYTEST := env -u MAKELEVEL -u MAKEFLAGS -u MFLAGS $(PY) -m pytest

.PHONY: demo test explore check bench pictures coverage lock clean setup browser help
.DEFAULT_GOAL := help

help:
	@printf '%s\n' \
	'make demo      builds one invented engine on simulated gauges while you watch (ARGS="…" are its options)' \
	'make test      runs every test, four at a time (TESTS="tests/unit" for some, ARGS="-k word" for' \
	'               pytest options, WORKERS=0 for one at a time)' \
	'make explore   property tests with examples never tried before' \
	'make check     lint, format, types, import contracts' \
	'make bench     measures; ARGS="--quick" or "--large"' \
	'make pictures  takes the pictures of README.md anew, from a running demo' \
	'make coverage  runs every test and reports what they do not reach' \
	'make lock      computes the lock files again (UPGRADE=--upgrade for newer versions)' \
	'make clean     removes .venv and everything that can be made again'

demo: $(RUNTIME)
	@$(BIN)/witnessmark demo $(ARGS)

test: $(DEV) browser
	@$(PYTEST) -n $(WORKERS) --dist worksteal $(TESTS) $(ARGS)

explore: $(DEV)
	@EXPLORE=1 $(PYTEST) tests/property $(ARGS)

# All of them run, so that one run shows everything there is to mend.
check: $(DEV)
	@failed=; \
	for command in "ruff check ." "ruff format --check ." mypy lint-imports; do \
	    echo "── $$command"; $(BIN)/$$command || failed="$$failed [$$command]"; \
	done; \
	test -z "$$failed" || { echo "check: failed:$$failed" >&2; exit 1; }

bench: $(DEV)
	@$(PY) -m tests.benchmarks $(ARGS)

pictures: $(DEV) browser
	@$(PY) -m tests.pictures $(ARGS)

coverage: $(DEV) browser
	@rm -f .coverage .coverage.*
	@$(PYTEST) $(TESTS) --cov --cov-report= $(ARGS)
	@$(BIN)/coverage report --skip-covered --skip-empty --sort=cover

setup: $(DEV)

# ── .venv ────────────────────────────────────────────────────────────────────────────────────────

$(PY):
	@set -e; exec 1>&2; \
	for python in $(PYTHONS); do \
	    if "$$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then \
	        echo "witnessmark: making $(VENV) with $$("$$python" --version)"; \
	        if "$$python" -m venv --clear $(VENV); then exit 0; fi; \
	        rm -rf $(VENV); \
	        if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	            echo "witnessmark: this Python has no venv module: installing Debian's"; \
	            apt-get update -qq && apt-get install -y -qq --no-install-recommends python3-venv \
	                && "$$python" -m venv --clear $(VENV) && exit 0; \
	            rm -rf $(VENV); \
	        fi; \
	        echo "witnessmark: $$python cannot make a virtual environment." \
	             "Mend: install its venv module (Debian: apt-get install python3-venv)."; \
	        exit 1; \
	    fi; \
	done; \
	echo "witnessmark: no Python 3.11 or newer found." \
	     "Mend: install one, or say where it is: make PYTHON=/path/to/python3 …"; \
	exit 1

$(RUNTIME): requirements.lock requirements-build.lock pyproject.toml | $(PY)
	@set -e; exec 1>&2; \
	echo "witnessmark: installing what it needs into $(VENV) (a minute or two, the first time)"; \
	$(FROM_LOCK) -r requirements.lock -r requirements-build.lock; \
	$(PROJECT); \
	touch $@

$(DEV): requirements-dev.lock requirements-build.lock pyproject.toml | $(PY)
	@set -e; exec 1>&2; \
	echo "witnessmark: installing what it and its tests need into $(VENV) (a minute or two, the first time)"; \
	$(FROM_LOCK) -r requirements-dev.lock -r requirements-build.lock; \
	$(PROJECT); \
	touch $(RUNTIME) $@

# Browser tests drive Debian's Chromium; where it cannot be had they skip and say so.
browser:
	@exec 1>&2; \
	if command -v chromium >/dev/null || command -v chromium-browser >/dev/null \
	    || command -v google-chrome >/dev/null || [ -n "$$CHROMIUM" ]; then exit 0; fi; \
	if [ "$$(uname -s)" = Linux ] && [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	    echo "witnessmark: installing Chromium for the browser tests"; \
	    apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
	        apt-get install -y -qq --no-install-recommends chromium && exit 0; \
	fi; \
	echo "witnessmark: no Chromium here: the browser tests will skip." \
	     "Mend: install it, or name it in CHROMIUM=/path/to/chromium."

# ── locks: versions and hashes only, no addresses ────────────────────────────────────────────────

# The three are resolved one inside the other, so that what all of them hold has one version. Extras
# stay in: older pips look for the newest of `name[extra]` where only `name` is pinned, and refuse it.
lock: | $(PY)
	@exec 1>&2; test -x $(BIN)/uv || $(PIP) install uv
	$(COMPILE) --extra dev --output-file requirements-dev.lock pyproject.toml
	$(COMPILE) --constraint requirements-dev.lock --output-file requirements.lock pyproject.toml
	printf 'hatchling\neditables\n' | $(COMPILE) --constraint requirements-dev.lock \
	    --output-file requirements-build.lock -
	@! grep -nE '://' requirements.lock requirements-dev.lock requirements-build.lock

clean:
	rm -rf $(VENV) build dist *.egg-info .coverage .coverage.* htmlcov .hypothesis .mypy_cache \
	    .ruff_cache .import_linter_cache .pytest_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
