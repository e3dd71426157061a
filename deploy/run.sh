#!/usr/bin/env bash
# Run Ricalco from its checkout, on a machine that has Python 3.11 and nothing else.
#
#   bash deploy/run.sh                     start the service; Ctrl-C stops it
#   bash deploy/run.sh make photo.jpg …    any other words go to the ricalco command
#
# It makes .venv in the checkout the first time and uses it from then on.
set -euo pipefail

# shellcheck source=deploy/environment.sh
. "$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)/environment.sh"

prepare_alone ""
[ "$#" -gt 0 ] || set -- serve
exec "$venv/bin/ricalco" "$@"
