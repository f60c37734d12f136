#!/usr/bin/env bash
# Journals on other disks than a computer's own: exFAT, which knows no second names, no links and no permissions, and one folder
# that two computers share, of whose locks neither sees the other's. Both by FUSE, so that no module of the kernel is needed.
# Needs root, /dev/fuse and from Debian: exfatprogs exfat-fuse sshfs openssh-server. Not part of `cargo test`: it mounts.
set -euo pipefail
program=${STANDPIPE:-$(pwd)/target/debug/standpipe}
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
mkdir "$work/exfat" "$work/shared" "$work/one" "$work/two"
clean() {
  umount "$work/exfat" "$work/one" "$work/two" 2> /dev/null || true
  [ -z "${disk:-}" ] || losetup -d "$disk"
  [ ! -f "$work/sshd.pid" ] || kill "$(cat "$work/sshd.pid")"
  rm -rf "$work"
}
trap clean EXIT
fail() { echo "FAILED: $*" >&2; exit 1; }

# Every job of the example workshop ends as it does on the computer's own disk, and an audit says the same of it.
every_job() { # FOLDER
  STANDPIPE=$program bash "$here/examples/fleet.sh" "$1/fleet" | diff - <(grep -v '^#' "$here/examples/fleet.txt" | sed 's/  *$//') \
    || fail "jobs end otherwise on $1"
  "$program" audit --format csv "$1/fleet" | sed "s|$1|FOLDER|g" > "$work/audit.csv" || true
  [ -s "$work/own.csv" ] || cp "$work/audit.csv" "$work/own.csv"
  diff "$work/own.csv" "$work/audit.csv" > /dev/null || fail "an audit says otherwise on $1"
  echo "${1##*/}: $(wc -l < "$work/audit.csv") lines of an audit as on the computer's own disk"
}

every_job "$work"

head -c 512M /dev/zero > "$work/disk.img"
mkfs.exfat "$work/disk.img" > /dev/null
disk=$(losetup --find --show "$work/disk.img")
mount.exfat-fuse "$disk" "$work/exfat" > /dev/null 2>&1
touch "$work/exfat/a"
ln "$work/exfat/a" "$work/exfat/b" 2> /dev/null && fail "this disk knows second names"
every_job "$work/exfat"

ssh-keygen -q -t ed25519 -N "" -f "$work/host"
ssh-keygen -q -t ed25519 -N "" -f "$work/client"
cat > "$work/sshd.conf" <<END
Port 2298
ListenAddress 127.0.0.1
HostKey $work/host
AuthorizedKeysFile $work/client.pub
StrictModes no
PermitRootLogin yes
Subsystem sftp internal-sftp
PidFile $work/sshd.pid
END
mkdir -p /run/sshd
$(command -v sshd || echo /usr/sbin/sshd) -f "$work/sshd.conf"
for mounted in one two; do
  sshfs -p 2298 -o "IdentityFile=$work/client,StrictHostKeyChecking=no,UserKnownHostsFile=/dev/null" \
    "root@127.0.0.1:$work/shared" "$work/$mounted" 2> /dev/null
done
every_job "$work/one"

# Two computers go on with one job at the same moment, over and over: one of them does it, the other is told which one has it.
computer() { # NAME MOUNTED JOB
  unshare --uts sh -c 'hostname "$1"; shift; exec "$@"' - "$1" "$program" run "$here/examples/jobs/heron-van.yaml" \
    --answers "$here/examples/answers/heron-van.yaml" --journal "$work/$2/$3" > /dev/null 2> "$work/$2.told" || true
}
# What a job has behind it whose answers end early.
mkdir -p "$work/begun/answers"
ln -s "$here/examples/jobs" "$here/examples/photos" "$here/examples/logs" "$here/examples/workshop" "$work/begun"
head -n 22 "$here/examples/answers/heron-van.yaml" > "$work/begun/answers/first.yaml"
for turn in 1 2 3 4 5; do
  "$program" run "$here/examples/jobs/heron-van.yaml" --answers "$work/begun/answers/first.yaml" \
    --journal "$work/shared/two-$turn" > /dev/null 2>&1 || true
  [ -f "$work/shared/two-$turn/journal.jsonl" ] || fail "the job did not begin"
  computer bay-1 one "two-$turn" & computer bay-2 two "two-$turn" & wait
  "$program" report "$work/shared/two-$turn" | grep -q '^Finished on' || fail "neither computer finished the job"
  "$program" audit "$work/shared/two-$turn" > /dev/null || fail "the journal does not hold: $(cat "$work/one.told" "$work/two.told")"
  grep -q 'being written on another computer: bay-' "$work/one.told" "$work/two.told" || fail "nobody was told"
done
echo "two computers: one wrote, the other was told, $turn times"
