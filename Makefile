# Two commands do everything: `make run` and `make test`. They need Python 3.11 and Node 20.

PYTHON ?= python3.11
PORT ?= 8000
WORKERS ?= auto
PY := .venv/bin/python
LOCAL := PASSAGEWORK_LOCAL=1 PASSAGEWORK_URL=http://localhost:$(PORT)

.PHONY: run test test-postgresql bench format check words clean ready chromium

# Packages. The stamps are older than their locks when something has to be installed again.
.venv/ready: requirements.txt
	command -v $(PYTHON) >/dev/null || { echo "Passagework needs Python 3.11 ($(PYTHON) was not found)." >&2; exit 1; }
	$(PYTHON) -m venv .venv
	$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.txt
	touch $@

node_modules/ready: package-lock.json
	command -v npm >/dev/null || { echo "Passagework needs Node 20 with npm." >&2; exit 1; }
	npm ci --silent
	touch $@

ready: .venv/ready node_modules/ready

# The demo studio, on this machine only. Its logins are printed at the start.
run: ready
	$(LOCAL) $(PY) manage.py migrate --verbosity 0
	$(LOCAL) $(PY) manage.py demo --unless-there
	@echo "Open http://localhost:$(PORT)"
	$(LOCAL) .venv/bin/gunicorn studio.wsgi --bind 127.0.0.1:$(PORT) --workers 2 --threads 4 --timeout 120 --no-control-socket

# Everything that is checked: style, types, migrations, all tests with the browser's.
test: ready chromium check
	$(PY) -m pytest -n $(WORKERS) -q

check: ready
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .
	.venv/bin/mypy
	$(LOCAL) $(PY) manage.py makemigrations --check --dry-run

# A browser and a PDF tool are system packages: installed where we may, clearly asked for where not.
chromium:
	@sh tests/system_packages.sh chromium pdftoppm

# The same tests on PostgreSQL: DATABASE_URL says where, or a server of our own is started for them. The browser's, and
# those that ask no database anything, are run by "test" alone.
NO_DATABASE := tests/scores/music tests/scores/reading_files tests/test_rooms.py
test-postgresql: ready
	@sh tests/system_packages.sh postgresql
	sh tests/with_postgresql.sh $(PY) -m pytest -n $(WORKERS) -q -m "not browser" $(NO_DATABASE:%=--ignore %)

bench: ready
	$(LOCAL) $(PY) -m tests.bench

format: ready
	.venv/bin/ruff check --fix .
	.venv/bin/ruff format .

# Gathers the words of all screens for translators.
words: ready
	$(PY) -m django makemessages --all --ignore node_modules --ignore .venv --settings studio.settings

clean:
	rm -rf .venv node_modules var
