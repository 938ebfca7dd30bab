#!/usr/bin/env bash
# A sweep or a recruitment run as a Slurm job array: one shard a task, then a job that joins them.
#
#   SHARDS=16 OUT=runs/gaps scenarios/cluster/array.sh sweep verge-pair --vary site.gap_m=2..20/6 --seasons 100000
#
# Typed on a login node it submits itself; what Slurm starts runs a shard or gathers. Settings, by environment:
#   SHARDS     tasks of the array (16)
#   ROUNDS     times that the array runs before shards are gathered (1; recruit: up to 4)
#   OUT        folder of this run alone, on a file system that all nodes share (crawlspan-run)
#   CRAWLSPAN  the program (crawlspan)
#   SBATCH     further options of sbatch for every job, such as --partition=long --time=4:00:00
#
#SBATCH --job-name=crawlspan
#SBATCH --ntasks=1
#SBATCH --cpus-per-task=1
#SBATCH --output=crawlspan-%A-%a.log
# Interrupted half a minute before its time is up, a shard ends in good order; killed, it loses seconds of work.
#SBATCH --signal=B:INT@30
#SBATCH --requeue
set -euo pipefail

: "${SHARDS:=16}" "${ROUNDS:=1}" "${OUT:=crawlspan-run}" "${CRAWLSPAN:=crawlspan}" "${SBATCH:=}"
export SHARDS ROUNDS OUT CRAWLSPAN

if [ -n "${SLURM_ARRAY_TASK_ID:-}" ]; then
    exec "$CRAWLSPAN" "$@" --out "$OUT" --threads "${SLURM_CPUS_PER_TASK:-1}" \
        --shard "$SLURM_ARRAY_TASK_ID/$SHARDS"
fi

if [ -n "${SLURM_JOB_ID:-}" ] && [ "${GATHER:-no}" = yes ]; then
    exec "$CRAWLSPAN" gather "$OUT"/*/ --threads "${SLURM_CPUS_PER_TASK:-1}"
fi

if [ "$#" -eq 0 ]; then
    sed -n '2,/^#$/p' "$0" | sed 's/^# \{0,1\}//'
    exit 2
fi

after=()
for ((round = 1; round <= ROUNDS; round++)); do
    # shellcheck disable=SC2086 # several options in one setting
    job=$(sbatch --parsable --array="1-$SHARDS" "${after[@]}" $SBATCH "$0" "$@")
    printf 'round %s: job %s, %s shards\n' "$round" "$job" "$SHARDS"
    after=(--dependency="afterok:$job" --kill-on-invalid-dep=yes)
done
# shellcheck disable=SC2086
job=$(GATHER=yes sbatch --parsable --output=crawlspan-%j.log "${after[@]}" $SBATCH "$0" "$@")
printf 'gather: job %s\n' "$job"
