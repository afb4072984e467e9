// This device as the microphone: frames to the bench, read-backs from it, the screen kept on.
const MOST_WAITING = 256 * 1024;

export function microphone(button) {
  button.addEventListener("click", () => start(button).catch((error) => {
    button.disabled = false;
    button.textContent = `Microphone: ${error.message}. Try again`;
  }));
}

async function start(button) {
  button.disabled = true;
  button.textContent = "Asking for the microphone";
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
  });
  const context = new AudioContext();
  await context.resume();
  await context.audioWorklet.addModule("/a/microphone.js");
  const frames = new AudioWorkletNode(context, "frames", { numberOfOutputs: 0 });
  context.createMediaStreamSource(stream).connect(frames);
  let socket = null;
  frames.port.onmessage = ({ data }) => {
    // What cannot be sent in time is left out; the numbers tell the bench.
    if (socket && socket.readyState === WebSocket.OPEN && socket.bufferedAmount < MOST_WAITING) socket.send(data);
  };
  stream.getAudioTracks()[0].addEventListener("ended", () => { button.textContent = "The microphone went away"; });
  const open = () => {
    socket = new WebSocket(`${location.origin.replace(/^http/, "ws")}/phone`);
    socket.binaryType = "arraybuffer";
    let replaced = false;
    socket.onopen = () => {
      socket.send(JSON.stringify({ rate_hz: context.sampleRate }));
      button.textContent = "This device listens";
    };
    socket.onmessage = ({ data }) => {
      if (data === "replaced") { replaced = true; return; }
      play(context, data).finally(() => { if (socket.readyState === WebSocket.OPEN) socket.send("played"); });
    };
    socket.onclose = () => {
      button.textContent = replaced ? "Another device listens now" : "Cut off: what is said now is lost. Trying again";
      if (replaced) button.disabled = false;
      else setTimeout(open, 1000);
    };
  };
  open();
  // Another page in this window would end the sound.
  for (const link of document.querySelectorAll("footer a")) Object.assign(link, { target: "_blank", rel: "noopener" });
}

async function play(context, wav) {
  const sound = await context.decodeAudioData(wav);
  const source = new AudioBufferSourceNode(context, { buffer: sound });
  source.connect(context.destination);
  await new Promise((done) => { source.onended = done; source.start(); });
}

// A screen that goes dark shows nothing.
export function keepOn() {
  const ask = () => {
    if (document.visibilityState === "visible" && navigator.wakeLock) navigator.wakeLock.request("screen").catch(() => {});
  };
  document.addEventListener("visibilitychange", ask);
  ask();
}
