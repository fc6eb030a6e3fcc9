# make run    set everything up and serve the demo school
# make test   set everything up and check everything
# make bench  measure speed and size
# make check  while working: style, types, layers and the tests of what changed
# make lock   take the newest versions, pin them with hashes, look for known holes
.DEFAULT_GOAL := help
.PHONY: help run test bench check lock format clean

VENV := .venv
PYTHON := $(VENV)/bin/python
# Where a machine keeps a newer Python beside an old `python3`.
CANDIDATES := python3.13 python3.12 python3.14 python3 $(HOME)/.pyenv/versions/3.1[2-9]*/bin/python3 \
	/usr/local/bin/python3.1[2-9] /opt/*/bin/python3.1[2-9]
PORT ?= 8000
# One lock for every Python and platform that Bandroom runs on.
PIN := $(VENV)/bin/uv pip compile --quiet --universal --python-version 3.12 --generate-hashes --no-annotate

help:
	@sed -n 's/^# //p' $(MAKEFILE_LIST) | head -5

run: $(VENV)/.runtime
	@$(PYTHON) manage.py serve --port $(PORT)

test: $(VENV)/.tests
	@$(PYTHON) -m tests.check

bench: $(VENV)/.tests
	@$(PYTHON) -m tests.bench

check: $(VENV)/.tests
	@$(PYTHON) -m tests.quick

lock: $(VENV)/.tests
	@UV_CUSTOM_COMPILE_COMMAND="make lock" $(PIN) --upgrade pyproject.toml -o requirements.txt
	@UV_CUSTOM_COMPILE_COMMAND="make lock" $(PIN) --upgrade --group pyproject.toml:test -c requirements.txt -o tests/requirements.txt
	@$(VENV)/bin/uv tool run pip-audit --disable-pip --require-hashes -r requirements.txt -r tests/requirements.txt

format: $(VENV)/.tests
	@$(VENV)/bin/ruff format . && $(VENV)/bin/ruff check --fix .

clean:
	rm -rf $(VENV) var build .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache

$(VENV)/bin/python:
	@for candidate in $(CANDIDATES); do \
		if "$$candidate" -c 'import sys, venv; sys.exit(sys.version_info < (3, 12))' 2>/dev/null; then \
			echo "Making $(VENV) with $$("$$candidate" --version)"; \
			"$$candidate" -m venv $(VENV) && exit 0; \
			rm -rf $(VENV); \
		fi; \
	done; \
	echo "Bandroom needs Python 3.12 or newer with its venv module: install it (on Debian or Ubuntu: apt-get install python3.13-venv, or python3.12-venv), then run this again." >&2; \
	exit 1

$(VENV)/.runtime: requirements.txt | $(VENV)/bin/python
	@echo "Installing what Bandroom runs on"
	@$(PYTHON) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.txt
	@touch $@

$(VENV)/.tests: tests/requirements.txt $(VENV)/.runtime
	@echo "Installing what the tests need"
	@$(PYTHON) -m pip install --quiet --disable-pip-version-check --require-hashes -r tests/requirements.txt
	@touch $@
