// This device as the microphone: frames to the bench, read-backs from it, the screen kept on.
const MOST_WAITING = 256 * 1024;
const WANTED = { audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 } };
// A phone below this must be plugged in soon (common practice, no source).
const LOW = 0.2;

// Trouble of this device, by its kind; none in empty words.
const troubles = new Map();
function trouble(kind, words) {
  troubles.set(kind, words);
  const node = document.getElementById("device"), all = [...troubles.values()].filter(Boolean).join(" ");
  if (node.textContent !== all) node.textContent = all;
  node.hidden = all === "";
}

// Not every browser tells its battery.
async function battery() {
  const now = await navigator.getBattery?.();
  if (!now) return;
  const look = () => trouble("battery", now.charging || now.level > LOW ? "" : `This device's battery is at ${Math.round(now.level * 100)} %: plug it in.`);
  for (const change of ["levelchange", "chargingchange"]) now.addEventListener(change, look);
  look();
}

export function microphone(button) {
  button.addEventListener("click", () => start(button).catch((error) => {
    button.disabled = false;
    button.textContent = `Microphone: ${error.message}. Try again`;
  }));
}

async function start(button) {
  button.disabled = true;
  button.textContent = "Asking for the microphone";
  const stream = await navigator.mediaDevices.getUserMedia(WANTED);
  const context = new AudioContext();
  await context.resume();
  await context.audioWorklet.addModule("/a/microphone.js");
  const frames = new AudioWorkletNode(context, "frames", { numberOfOutputs: 0 });
  let socket = null, source = null, over = false;
  frames.port.onmessage = ({ data }) => {
    if (socket?.readyState !== WebSocket.OPEN) return;
    // What cannot be sent in time is left out; the numbers tell the bench.
    if (socket.bufferedAmount < MOST_WAITING) { socket.send(data); return; }
    trouble("signal", "The network is too slow here: parts of what you say are lost. Go nearer to its station.");
  };
  // A call or a lock takes the microphone away; it is asked for again when the page is seen again.
  const listen = (from) => {
    source?.disconnect();
    source = context.createMediaStreamSource(from);
    source.connect(frames);
    from.getAudioTracks()[0].addEventListener("ended", () => { button.textContent = "The microphone went away"; });
    return from;
  };
  let heard = listen(stream);
  const again = async () => {
    if (document.hidden || over) return;
    if (context.state !== "running") await context.resume();
    if (heard.getAudioTracks()[0].readyState !== "ended") return;
    heard = listen(await navigator.mediaDevices.getUserMedia(WANTED));
    button.textContent = "This device listens";
  };
  document.addEventListener("visibilitychange", () => again().catch((error) => { button.textContent = `Microphone: ${error.message}`; }));
  // In another network the old line is dead, though nothing says so.
  addEventListener("online", () => socket?.close());
  addEventListener("offline", () => { button.textContent = "No network: what is said now is lost"; });
  const open = () => {
    socket = new WebSocket(`${location.origin.replace(/^http/, "ws")}/phone`);
    socket.binaryType = "arraybuffer";
    let replaced = false;
    socket.onopen = () => {
      trouble("signal", "");
      socket.send(JSON.stringify({ rate_hz: context.sampleRate }));
      button.textContent = "This device listens";
    };
    socket.onmessage = ({ data }) => {
      if (data === "replaced") { replaced = true; return; }
      play(context, data).finally(() => { if (socket.readyState === WebSocket.OPEN) socket.send("played"); });
    };
    socket.onclose = () => {
      button.textContent = replaced ? "Another device listens now" : "Cut off: what is said now is lost. Trying again";
      over = replaced;
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
  battery().catch(() => {});
}
