#!/usr/bin/env bash
# Every check, on a machine that has Python 3.11 and nothing else: lint, types, arrows, tests.
#
# All of them run even when one fails; the last lines say which did. Exit code 1 on any failure.
# No check has a time to keep: what hangs is ended because it is silent (watch.sh).
set -euo pipefail

# shellcheck source=deploy/environment.sh
. "$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)/environment.sh"
# shellcheck source=deploy/watch.sh
. "$root/deploy/watch.sh"

axe_version=4.14.1
contract_tools=(
    @redocly/cli@2.77.0 @stoplight/spectral-cli@6.16.3
    openapi-typescript@7.13.0 openapi-fetch@0.17.0 typescript@5.9.3 @types/node@20.19.43
)
summary=()
failures=0
logs="$(mktemp -d)"
trap 'rm -rf "$logs"' EXIT

# Usage: check NAME COMMAND...; remembers how it ended and the last line that it printed.
check() {
    local name="$1" log="$logs/log" begun=$SECONDS word="ok  "
    shift
    printf '\n== %s\n' "$name"
    if ! "$@" </dev/null 2>&1 | tee "$log"; then
        word="FAIL"
        failures=$((failures + 1))
    fi
    summary+=("$word $name ($((SECONDS - begun)) s): $(tail -n 1 "$log")")
}

# The tests start a real Redis, PostgreSQL and browser, and have pages drawn by Poppler too.
need_programs() {
    local missing=()
    command -v redis-server >/dev/null || missing+=(redis-server)
    # Debian keeps its programs beside, not on, the path.
    compgen -G "/usr/lib/postgresql/*/bin/initdb" >/dev/null || command -v initdb >/dev/null ||
        missing+=(postgresql)
    command -v pdftoppm >/dev/null || missing+=(poppler-utils)
    command -v chromium >/dev/null || missing+=(chromium)
    command -v npm >/dev/null || missing+=(npm)
    [ "${#missing[@]}" -eq 0 ] || apt_install "${missing[@]}" ||
        fail "the tests need ${missing[*]}: sudo apt install ${missing[*]}"
}

# What looks for barriers in the page (axe-core, MPL 2.0) comes from the npm registry, once.
need_axe() {
    local folder="$venv/axe-core"
    [ -s "$folder/axe.min.js" ] && return
    say "fetching axe-core with npm"
    mkdir -p "$folder"
    (cd "$folder" && npm pack --silent "axe-core@$axe_version" </dev/null >/dev/null) ||
        fail "npm could not fetch axe-core; its message stands above."
    tar -xzf "$folder/axe-core-$axe_version.tgz" -C "$folder" --strip-components=1 \
        package/axe.min.js package/LICENSE
}

# Linters of OpenAPI documents and a generator of TypeScript come from the npm registry too, once
# for each set of versions. No script of a package is run.
need_contract_tools() {
    local folder="$venv/contract-tools"
    [ "$(cat "$folder/versions" 2>/dev/null)" = "${contract_tools[*]}" ] && return
    say "fetching what reads the OpenAPI document with npm"
    rm -rf "$folder"
    mkdir -p "$folder"
    (cd "$folder" && npm install --silent --no-save --no-audit --no-fund --ignore-scripts \
        --prefix "$folder" "${contract_tools[@]}" </dev/null >/dev/null) ||
        fail "npm could not fetch ${contract_tools[*]}; its message stands above."
    printf '%s\n' "${contract_tools[*]}" >"$folder/versions"
}

need_programs
prepare_alone "[test]"
need_axe
need_contract_tools
cd "$root"
PATH="$venv/bin:$PATH"
# What is printed is seen, and counts as life, when it is printed.
export PYTHONUNBUFFERED=1
# Settings of whoever starts the tests are not what is tested.
unset "${!RICALCO_@}"

check "ruff check" ruff check .
check "ruff format" ruff format --check .
check "mypy" mypy
check "import-linter" lint-imports
# The same cases every time: new ones are looked for by whoever works on the code (DEVELOPERS.md).
check "unit and property tests" unless_silent "$logs/log" python -m pytest -n 2 \
    --hypothesis-profile=ci tests/unit tests/property
check "the ledger on PostgreSQL" unless_silent "$logs/log" python -m pytest -n 2 -W default \
    --ledger=postgresql tests/unit/store/ledger --ignore tests/unit/store/ledger/test_sqlite.py
# Whole programs are run here, whose libraries warn of things that are not ours to mend. Each
# file has services of its own, so that several can run side by side; three, since most wait for
# programs that they started. Should a browser or a server fail beside others: what fails is tried
# once more, and both are told.
beside=(-W default -n 3 --dist loadfile --reruns 1 -m "not alone" --hypothesis-profile=ci)
check "integration and browser tests" unless_silent "$logs/log" python -m pytest "${beside[@]}" \
    tests/integration
check "tests that run alone" unless_silent "$logs/log" python -m pytest -W default -m alone tests/integration

printf '\n== summary (%s s)\n' "$SECONDS"
printf '%s\n' "${summary[@]}"
[ "$failures" -eq 0 ]
