#!/bin/bash
# Installs the package in a bare Debian made for it, plays the demo there, opens a page and removes it
# again. As root; needs mmdebstrap.
set -euo pipefail
cd "$(dirname "$0")/.."

package=$(ls target/debian/benchcall_*.deb)
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT

# The package's dependencies come from the same mirror as the bare system.
mmdebstrap --quiet --variant=minbase bookworm "$root"
cp "$package" "$root/benchcall.deb"
inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root "$@"; }
# In the place of the shell that calls it, so that a signal reaches the program itself.
inside_for_good() { exec chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root "$@"; }
inside apt-get update -q >/dev/null
inside apt-get install -y -q --no-install-recommends ./benchcall.deb >/dev/null

# The bill of materials is that of this very program.
version=$(inside benchcall --version | cut -d' ' -f2)
materials=$(tr -d ' \n' <"$root/usr/share/doc/benchcall/benchcall.cdx.json")
for part in '"bomFormat":"CycloneDX"' "\"name\":\"benchcall\",\"version\":\"$version\"" '"name":"libsqlite3-sys"'; do
    case $materials in
        *"$part"*) ;;
        *) echo "package: the bill of materials lacks $part" >&2; exit 1 ;;
    esac
done

inside benchcall demo | tail -n 25 >"$root/demo"
grep -q 'of 65' "$root/demo" || { cat "$root/demo"; echo "package: the demo did not run to its end" >&2; exit 1; }

# A recording is the microphone: there is none here.
(inside_for_good benchcall bench --silent --port 7544 \
    --recording /usr/share/benchcall/fixtures/session/session.flac /root/jobs >"$root/bench" 2>&1) &
bench=$!
for _ in $(seq 100); do grep -q '^http' "$root/bench" && break; sleep 0.1; done
exec 3<>/dev/tcp/127.0.0.1/7544
printf 'GET /pair HTTP/1.1\r\nHost: 127.0.0.1:7544\r\nConnection: close\r\n\r\n' >&3
head -n 1 <&3 | grep -q ' 200 ' || { cat "$root/bench"; echo "package: no page was served" >&2; exit 1; }
kill "$bench"
wait "$bench" || true

inside apt-get purge -y -q benchcall >/dev/null
inside rm -rf /benchcall.deb /root/jobs /root/.config/benchcall
left=$(inside sh -c 'find / -xdev -name "*benchcall*" ! -path "/proc/*"')
[ -z "$left" ] || { printf 'package: left behind:\n%s\n' "$left" >&2; exit 1; }
echo "package: installed, tried and removed"
