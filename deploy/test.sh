#!/usr/bin/env bash
# Every check, on a machine that has Python 3.11 and nothing else: lint, types, arrows, tests.
#
# All of them run even when one fails; the last lines say which did. Exit code 1 on any failure.
# No check has a time to keep: what hangs is ended because it is silent (watch.sh).
set -euo pipefail

# shellcheck source=deploy/environment.sh
. "$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)/environment.sh"
# shellcheck source=deploy/arrangement_programs.sh
. "$root/deploy/arrangement_programs.sh"
# shellcheck source=deploy/watch.sh
. "$root/deploy/watch.sh"

axe_version=4.14.1
contract_tools=(
    @redocly/cli@2.77.0 @stoplight/spectral-cli@6.16.3
    openapi-typescript@7.13.0 openapi-fetch@0.17.0 typescript@5.9.3 @types/node@20.19.43
)
logs="$(mktemp -d)"
beside=""
# What was started here ends with it.
trap '[ -z "$beside" ] || kill -TERM -- "-$beside" 2>/dev/null; rm -rf "$logs"' EXIT

# Usage: check NAME COMMAND...; notes how it ended and the last line that it printed.
#
# The command writes to `$log`, also if it is a function that passes it on to `unless_silent`.
check() {
    local name="$1" log="$logs/$1.log" begun=$SECONDS word="ok  "
    shift
    printf '\n== %s\n' "$name"
    "$@" </dev/null 2>&1 | tee "$log" || word="FAIL"
    printf '%s %s (%s s): %s\n' "$word" "$name" "$((SECONDS - begun))" "$(tail -n 1 "$log")" \
        >>"$logs/summary"
}

# Usage: tests WORD...; pytest, watched over.
tests() { unless_silent "$log" python -m pytest "$@"; }

# Beside the whole arrangement the tests start a real CUPS and browser, and have pages drawn by Poppler too.
need_programs() {
    local missing=()
    command -v openssl >/dev/null || missing+=(openssl)
    command -v pdftoppm >/dev/null || missing+=(poppler-utils)
    command -v chromium >/dev/null || missing+=(chromium)
    command -v lp >/dev/null || missing+=(cups-client)
    command -v ipptool >/dev/null || missing+=(cups-ipp-utils)
    # CUPS is only started by tests, with queues of their own.
    [ -x /usr/sbin/cupsd ] || missing+=(cups-daemon)
    command -v dbus-daemon >/dev/null || missing+=(dbus-daemon)
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

# Linters of OpenAPI documents and a generator of TypeScript.
need_contract_tools() {
    need_packages contract-tools "what reads the OpenAPI document" "${contract_tools[@]}"
}

need_arrangement_programs
need_programs
prepare_alone "[test]"
need_bucket_server
need_axe
need_contract_tools
cd "$root"
PATH="$venv/bin:$PATH"
# What is printed is seen, and counts as life, when it is printed.
export PYTHONUNBUFFERED=1
# Some forty services and their workers start: none shall compile the source anew.
unset PYTHONDONTWRITEBYTECODE
# Settings of whoever starts the tests are not what is tested.
unset "${!RICALCO_@}"

# Whether what is installed fits together, and what of the program's own packages is behind.
#
# Advisories are not compared: pip-audit asks servers that a build machine may not reach, and the
# list that the registry has (safety-db) ends in July 2021. What is behind fails nothing.
audit() {
    python -m pip check || return
    python -m pip install --dry-run --quiet --disable-pip-version-check --no-input --upgrade \
        --upgrade-strategy eager --report "$logs/behind.json" \
        -e client -e ".[docs,lti,postgresql,s3]" >/dev/null ||
        { printf 'the registry does not say what is behind\n' && return; }
    python - "$logs/behind.json" <<'PYTHON'
import json
import sys
from importlib.metadata import distributions

here = {one.name: one.version for one in distributions()}
found = [one["metadata"] for one in json.load(open(sys.argv[1]))["install"]]
behind = [f"{one['name']} {here.get(one['name'], 'missing')} -> {one['version']}" for one in found
          if not one["name"].startswith("ricalco")]
print("nothing is behind" if not behind else f"behind: {', '.join(behind)}")
PYTHON
}

# What needs processor time alone, with less of a claim to it than what runs beside.
small_checks() {
    check "ruff check" ruff check .
    check "ruff format" ruff format --check .
    check "mypy" mypy
    check "import-linter" lint-imports
    check "packages" audit
    # The same cases every time: new ones are looked for by whoever works on the code
    # (DEVELOPERS.md).
    # Whole files at a time: what a module's tests share is made once, and not by each process.
    check "unit and property tests" tests -n 2 --dist loadfile --hypothesis-profile=ci \
        tests/unit tests/property
    check "the ledger on PostgreSQL" tests -n 2 -W default --ledger=postgresql \
        tests/unit/store/ledger --ignore tests/unit/store/ledger/database/test_sqlite.py
}

# Whole programs are run here, whose libraries warn of things that are not ours to mend. Each
# file has services of its own, so that several can run side by side; three, since most wait for
# programs that they started. Those that take longest begin first (tests/integration/conftest.py).
# Should a browser or a server fail beside others: what fails is tried once more, and both are told.
programs=(-W default -n 3 --dist loadfile --no-loadscope-reorder --reruns 1 -m "not alone"
    --hypothesis-profile=ci)

# Programs wait for each other a good part of their time, which the small checks fill; these are
# shown when they are through, so that no two checks mix what they print.
set -m
{ renice -n 5 "$BASHPID" >/dev/null && small_checks; } >"$logs/beside" 2>&1 &
beside=$!
set +m
check "integration and browser tests" tests "${programs[@]}" tests/integration
say "waiting for what runs beside: lint, types, arrows, unit and property tests, PostgreSQL"
while kill -0 "$beside" 2>/dev/null; do
    sleep 5
    printf '.'
done
wait "$beside" || printf 'FAIL the checks that ran beside broke off\n' >>"$logs/summary"
beside=""
cat "$logs/beside"
check "tests that run alone" tests -W default -m alone tests/integration

printf '\n== summary (%s s)\n' "$SECONDS"
sort -k 2 "$logs/summary"
! grep -q '^FAIL' "$logs/summary"
