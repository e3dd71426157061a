#!/usr/bin/env bash
# The whole arrangement on this machine: nginx, web processes, workers, Redis, PostgreSQL, a bucket.
#
#   bash deploy/arrangement.sh FOLDER [--workers 2] [--web 2]
#
# It installs what is missing (apt, npm, pip), starts everything on loopback with its data in
# FOLDER, prints the address, and stops everything in order on Ctrl-C or SIGTERM. What it starts is
# in deploy/arrangement; deploy/OPERATING.md says how the parts are run for people.
set -euo pipefail

# shellcheck source=deploy/environment.sh
. "$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)/environment.sh"
# shellcheck source=deploy/arrangement_programs.sh
. "$root/deploy/arrangement_programs.sh"

need_arrangement_programs
prepare_alone "[gunicorn,postgresql,s3]"
need_bucket_server
cd "$root"
exec "$venv/bin/python" -m deploy.arrangement "$@"
