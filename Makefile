# demo, test, lint: each works on a fresh machine with Python 3.11 or newer and make.
PYTHON ?= python3
PORT ?= 8000
VENV := .venv
BIN := $(VENV)/bin
export PORT
# Where compiled modules are not stored, each of the processes that demo and tests start compiles all of them again.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: demo test lint bench api-check scale pins clean

$(VENV)/ready: requirements.txt
	$(PYTHON) -m venv $(VENV)
	# Modules are compiled when they are first used; to compile all of them takes as long as the rest of the installation.
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes --requirement requirements.txt
	touch $@

demo: export DEBUG = 1
demo: $(VENV)/ready
	$(BIN)/python manage.py migrate --verbosity 0
	$(BIN)/python manage.py load_demo
	$(BIN)/python manage.py serve --port $(PORT)

# The tests have their own database and never touch a demo.
test: export DEBUG = 1
test: export BENCHLAST_DATA := $(or $(BENCHLAST_DATA),$(CURDIR)/.data/tests)
test: $(VENV)/ready
	$(BIN)/python -m pytest --numprocesses=logical --maxprocesses=4 --durations=15 $(ARGS)

lint: export DEBUG = 1
lint: $(VENV)/ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/python .ci/retired_words.py
	$(BIN)/lint-imports
	$(BIN)/mypy .
	$(BIN)/python manage.py makemigrations --check --dry-run

# One of them: make bench ONLY=rescore. A served demo: python -m bench.visitor --url. Each prints what it measured beside its floor.
bench: $(VENV)/ready
	for name in $(or $(ONLY),ingest rescore catalogue fitting outcomes coverage cox); do $(BIN)/python -m bench.$$name || exit 1; done

# Requests made up from the API's schema, as each role, against a served demo. A tool that the tests do not need has a .venv of its own.
API_CHECK := .data/api-check
$(API_CHECK)/ready: requirements-api-check.txt
	$(PYTHON) -m venv $(API_CHECK)
	$(API_CHECK)/bin/python -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes --requirement requirements-api-check.txt
	touch $@

api-check: $(VENV)/ready $(API_CHECK)/ready
	$(BIN)/python -m bench.api_check --program $(CURDIR)/$(API_CHECK)/bin/schemathesis $(ARGS)

# Primary, two replicas, pooler and two servers on one machine; about three minutes. ARGS="--seconds 60" for longer.
scale: $(VENV)/ready
	$(BIN)/python -m bench.scale $(ARGS)

# Compile the pins from pyproject.toml: requirements-serving.txt without the tools of the tests, one of a tool by itself; needs uv.
COMPILE := uv pip compile --quiet --universal --python-version 3.11 --no-header --no-strip-extras --generate-hashes
pins:
	$(COMPILE) pyproject.toml --group dev --output-file requirements.txt
	# What both have is the same.
	$(COMPILE) pyproject.toml --constraint requirements.txt --output-file requirements-serving.txt
	$(COMPILE) --group api-check --output-file requirements-api-check.txt

clean:
	rm -rf $(VENV) .data
