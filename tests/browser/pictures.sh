#!/bin/sh
# Makes the README's pictures from the demo's session, in a real browser.
#   tests/browser/pictures.sh           into target/pictures: that they can be made (CI)
#   tests/browser/pictures.sh --keep    into pictures, where the README shows them: look at them
set -eu
cd "$(dirname "$0")/../.."
folder=$PWD/target/pictures
[ "${1:-}" != --keep ] || folder=$PWD/pictures
BENCHCALL_PICTURES=$folder cargo test --release --test main browser::pictures -- --nocapture --test-threads 1
for picture in board board-dark board-phone board-asking board-stand-by board-cut-off review report; do
    [ -s "$folder/$picture.webp" ] || {
        echo "pictures: $folder/$picture.webp was not made" >&2
        exit 1
    }
done
