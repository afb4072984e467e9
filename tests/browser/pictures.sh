#!/bin/sh
# Makes the README's pictures from the demo's session, in a real browser.
#   tests/browser/pictures.sh           into target/pictures: that they can be made (CI)
#   tests/browser/pictures.sh --keep    into pictures, where the README shows them: look at them
set -eu
cd "$(dirname "$0")/../.."
folder=$PWD/target/pictures
[ "${1:-}" != --keep ] || folder=$PWD/pictures
BENCHCALL_PICTURES=$folder cargo test --release --test main browser::pictures -- --nocapture --test-threads 1
for page in home engine sound network board board-asking plan findings review report; do
    for size in tablet phone; do
        [ -s "$folder/$page-$size.png" ] || {
            echo "pictures: $folder/$page-$size.png was not made" >&2
            exit 1
        }
    done
done
