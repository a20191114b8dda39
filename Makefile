# Two commands do all set-up on a fresh Debian machine with Python 3.11: `make demo` and `make test`.
PYTHON ?= python3
BIN := .venv/bin

.PHONY: demo test quick lint long bench faults pictures pins audit licences clean

demo: .venv/run
	@DEMO=1 $(BIN)/python manage.py demo $(if $(RENEW),--renew)

test: .venv/test
	@tools/run-tests

quick: .venv/test          ## the tests on SQLite, without the browser
	@$(BIN)/pytest -m "not browser and not long and not faults"

lint: .venv/test
	@tools/lint

long: .venv/test           ## thousands of examples; minutes to an hour
	@$(BIN)/pytest -m long --hypothesis-show-statistics

faults: .venv/test         ## every fault, also the long ones; writes the table of results
	@FAULTS_TABLE=docs/faults.md $(BIN)/pytest -m faults tests/faults

bench: .venv/test          ## speed as ratios, printed
	@for file in tests/benchmarks/bench_*.py; do echo "== $$file"; $(BIN)/python -m $$(echo $$file | sed 's|/|.|g; s|\.py$$||') || exit 1; done

.venv/run: requirements/run.txt
	@tools/system-packages run
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@echo "Installing pinned packages (a minute or two, once)"
	@$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
	@touch $@

.venv/test: requirements/test.txt
	@tools/system-packages test
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@echo "Installing pinned packages for the tests (some minutes, once)"
	@$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements/test.txt
	@touch $@

pictures: .venv/test      ## the README's pictures, made anew by the browser
	@mkdir -p docs/pictures
	@PICTURES=docs/pictures $(BIN)/pytest tests/browser/test_first_sight.py

pins:                      ## compile pyproject.toml to pins with hashes; needs uv in PATH
	uv pip compile -q --generate-hashes --no-header --python-version 3.11 pyproject.toml -o requirements/run.txt
	uv pip compile -q --generate-hashes --no-header --python-version 3.11 --extra test -c requirements/run.txt pyproject.toml -o requirements/test.txt

audit: .venv/test
	@tools/audit

licences: .venv/test
	@$(BIN)/pip-licenses --from=mixed

clean:
	rm -rf .venv var .mypy_cache .ruff_cache .pytest_cache .hypothesis
