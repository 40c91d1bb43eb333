#!/bin/sh
# Runs every check of the project: style, types, tests. Runs all of them, ends nonzero if any failed.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 2
. "$root/tests/environment.sh"
prepare_environment test

cd "$root" || exit 2
failed=
step() {
    printf '\n%s\n' "$*"
    "$venv_python" -m "$@" </dev/null || failed="$failed; $*"
}

step ruff check .
step ruff format --check .
step mypy
if [ -n "$failed" ]; then
    printf '\nFAILED before the tests: %s\n' "${failed#; }"
fi
# pytest comes last, so that its closing line is the last one.
if "$venv_python" -c 'import xdist' 2>/dev/null; then
    step pytest -n 2
else
    step pytest
fi
[ -z "$failed" ]
