#!/bin/sh
# Checks the sample job and writes its report; installs what is needed first. Ends with 0 when the check ran to its
# end, whatever it found.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 2
. "$root/tests/environment.sh"
prepare_environment ""

cd "$root" || exit 2
job=sample_jobs/ridge_thinning
rm -f "$job/report.pdf" "$job/report.json"
.venv/bin/auditor check "$job" --audit-date 2026-06-12 --write "$job/report.pdf" --write "$job/report.json"
status=$?
case $status in
0 | 1 | 3) ;; # conformity, nonconformities, evidence missing
*) stop "The check did not run to its end (exit status $status)." ;;
esac
for report in "$job/report.pdf" "$job/report.json"; do
    [ -s "$report" ] || stop "The check ended but wrote no $report."
    printf 'report: %s\n' "$root/$report"
done
