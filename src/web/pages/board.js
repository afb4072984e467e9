// The board: shows what the bench sends, and says so when it sends nothing any more.
import { dial, el, head } from "./head.js";
import { keepOn, microphone } from "./phone.js";
import { pad, touch } from "./touch.js";

const $ = (id) => document.getElementById(id);
const MIC = "M20 3a7 7 0 0 1 7 7v9a7 7 0 0 1-14 0v-9a7 7 0 0 1 7-7zM7 18h4a9 9 0 0 0 18 0h4a13 13 0 0 1-11 13v6h-4v-6A13 13 0 0 1 7 18z";
// Word and shape of each state; what can be said then is the job's own.
const STATES = {
  starting: ["getting ready", "M20 4a16 16 0 1 0 .1 0zm0 6a10 10 0 1 1-.1 0z"],
  no_microphone: ["NO MICROPHONE", "M13 10a7 7 0 0 1 14 0v6L13 28zM3 33 33 3l4 4L7 37zM30 19h3a13 13 0 0 1-11 12v6h-4v-6z"],
  listening: ["listening", MIC],
  speaking: ["speaking", "M3 14h8l11-9v30l-11-9H3zM26 12a11 11 0 0 1 0 16zM30 5a18 18 0 0 1 0 30v-5a14 14 0 0 0 0-20z"],
  stand_by: ["STAND BY", "M9 4h8v32H9zM23 4h8v32h-8z"],
  key_not_pressed: ["KEY NOT PRESSED", "M4 26h32v10H4zM15 3h10v10h6L20 23 9 13h6z"],
  asking: ["asked", "M20 2 38 36H2zM18 13h4v12h-4zm0 15h4v4h-4z"],
  disk_full: ["DISK FULL: not listening", "M5 5h30v30H5zM18 11h4v12h-4zm0 15h4v4h-4z"],
  ended: ["ended: not listening", "M5 5h30v30H5z"],
};
const OVER = ["ended", "disk_full"];
const OUTCOMES = { stored: "stored", asked: "asked, not stored", refused: "refused, not stored" };
const MUCH = 70; // letters from which a value is a text
let seen = 0;
let shown = null;
let now = { state: "starting", trouble: "", push_to_talk: false };
let board = null;
let drawn = ""; // the valves of the head that stands there

function state() {
  const [word, path] = STATES[now.state] || STATES.starting;
  document.body.dataset.state = now.state;
  $("state-word").textContent = word;
  $("state-shape").setAttribute("d", path);
  $("state-say").replaceChildren(...hint());
  $("trouble").textContent = now.trouble;
  $("trouble").hidden = now.trouble === "";
  $("talk").hidden = !now.push_to_talk;
  const pause = $("pause"), standing = now.state === "stand_by";
  pause.dataset.press = standing ? "listen" : "stand_by";
  pause.textContent = standing ? "listen" : "stand by";
  for (const button of $("touch").querySelectorAll("button:not(#mic)")) button.disabled = OVER.includes(now.state);
}

// What to do now, with the words of the language that is spoken.
function hint() {
  const say = (words) => el("span", { lang: board.language }, `“${words}”`);
  if (!board) return [];
  if (now.state === "stand_by") return ["say ", say(board.examples[0])];
  if (now.state === "asking" && !board.asks?.changed) return [say(board.examples[0]), " or ", say(board.examples[1]), "?"];
  if (now.state === "no_microphone") return [$("mic").hidden ? "nobody is heard" : "nobody is heard: use this device's"];
  if (now.state === "key_not_pressed") return ["press it, then speak"];
  return [];
}

function last() {
  const { last, asks } = board;
  $("examples").hidden = Boolean(last) || OVER.includes(now.state);
  $("examples").querySelector("ul").replaceChildren(...board.examples.map((e) => el("li", { lang: board.language }, `“${e}”`)));
  $("left-open").hidden = board.left_open.length === 0;
  $("left-open").textContent = `Still open: ${board.left_open.join(", ")}`;
  document.body.toggleAttribute("data-question", Boolean(asks));
  // Most questions want a yes or no; one does not.
  const answers = asks?.changed ? [["changed", "changed"], ["read_again", "read again"]] : [["affirm", "yes"], ["negative", "no"]];
  [...document.querySelectorAll("#touch .answer")].forEach((button, i) => { [button.dataset.press, button.textContent] = answers[i]; });
  $("stands").hidden = !asks || !(asks.stands || asks.band);
  if (asks) {
    $("stands").replaceChildren(...(asks.stands ? [el("span", {}, `stands: ${asks.stands}`), " "] : []), ...(asks.band ? [el("span", {}, `band: ${asks.band} ${board.unit}`)] : []));
  }
  if (!last) return;
  $("hearing-text").textContent = last.said || "(typed)";
  // What waits is asked still, whatever was said since.
  const outcome = asks ? "asked" : last.outcome;
  $("outcome").dataset.outcome = outcome;
  // A command stores no reading.
  const done = outcome === "stored" && last.value === "";
  $("outcome-word").textContent = done ? "done" : OUTCOMES[outcome] || outcome;
  $("place").textContent = last.place;
  const value = last.value || (asks ? "" : last.words);
  // The unit stands smaller, so that the figures stay large and neither is cut off.
  const [, figures, unit] = value.match(/^(.*\d) (\S+)$/) || [null, value, ""];
  const what = last.what ? [el("span", { class: "what" }, last.what), " "] : [];
  $("value").replaceChildren(...what, figures, ...(unit ? [" ", el("small", {}, unit)] : []));
  $("value").classList.toggle("long", figures.length > (unit ? 14 : 17));
  $("value").classList.toggle("middling", figures.length > 10 || last.what !== "");
  $("words").textContent = asks ? asks.words : last.value && last.value.length < MUCH ? `» ${last.words}` : "";
  if (!shown || shown.event !== last.event) {
    $("aloud").textContent = `${$("outcome-word").textContent}: ${last.place} ${last.what} ${value}`;
    document.body.dataset.lag = Date.now() - last.at_ms;
    document.body.dataset.event = last.event;
  }
  shown = last;
}

function next() {
  const { next, plan } = board;
  $("next-tag").textContent = plan ? "all measured: the plan" : next && next.crank_deg !== null ? "next valve, and where to turn the crank" : "next valve";
  $("next-place").textContent = plan ? plan.headline : next ? next.place : "all measured";
  $("next-place").classList.toggle("words", Boolean(plan));
  dial($("dial"), next, board.crank_deg);
  $("dial").toggleAttribute("hidden", !next);
  $("steps").hidden = !plan || plan.steps.length === 0;
  if (plan) $("steps").replaceChildren(...plan.steps.map((s) => el("li", {}, s)));
  $("next-turn").replaceChildren();
  if (plan && plan.more > 0) $("next-turn").append(`and ${plan.more} more: see sheet and plan.`);
  if (next && next.crank_deg !== null) {
    const turn = next.crank_deg < 360 ? "cylinder 1 has fired" : "one turn after cylinder 1 fired";
    const here = next.here.length > 1 ? ` ${next.here.length} valves stand free here.` : "";
    const past = next.crank_deg % 360;
    $("next-turn").append(el("b", {}, past === 0 ? "mark 1" : `${past}° past 1`),
      `Turn to ${past === 0 ? "" : `${past}° past `}mark 1: ${turn}${board.assumed_timing ? ", timing assumed" : ""}.${here}`);
  }
}

function show() {
  $("left-count").textContent = board.total - board.measured;
  $("left-word").textContent = `of ${board.total} to measure${board.round === "as found" ? "" : `, ${board.round}`}${board.shims ? `, ${board.shims} shims known` : ""}`;
  last();
  if (board.ignored !== null) {
    $("hearing-tag").textContent = "not for me";
    $("hearing-text").textContent = board.ignored || "a noise";
  } else {
    $("hearing-tag").textContent = "heard";
  }
  next();
  // Most of what is said leaves the head as it is, and drawing it takes longest.
  const valves = JSON.stringify(board.valves);
  if (valves !== drawn) $("head").replaceChildren(...head(board));
  drawn = valves;
  $("source").textContent = `${board.engine}; ${board.numbering}. Microphone: ${board.source}.`;
}

// What was said, and what comes next, are made smaller until all of it can be read: the largest of these
// sizes, found by halves, because each try lays the part out anew.
const SIZES = Array.from({ length: 18 }, (_, i) => 1 - 0.04 * i);
function fit() {
  for (const node of [$("said"), $("next")]) {
    const fits = (size) => {
      node.style.setProperty("--fit", size);
      return node.scrollHeight <= node.clientHeight && node.scrollWidth <= node.clientWidth;
    };
    if (fits(SIZES[0])) continue;
    let [from, to] = [1, SIZES.length - 1];
    while (from < to) {
      const middle = (from + to) >> 1;
      if (fits(SIZES[middle])) to = middle; else from = middle + 1;
    }
    node.style.setProperty("--fit", SIZES[to]);
  }
}
addEventListener("resize", fit);

function level({ dbfs, heard }) {
  const share = Math.max(0, Math.min(1, (dbfs + 70) / 65));
  $("meter-bar").style.width = `${Math.round(share * 100)}%`;
  $("meter-word").textContent = dbfs <= -99 ? "no sound" : heard ? "hears you" : "quiet";
}

function take(message) {
  seen = performance.now();
  $("stale").hidden = true;
  if (message.state) now = message.state;
  if (message.board) board = message.board;
  if (message.state || message.board) state();
  if (message.board) show();
  if (message.state || message.board) fit();
  if (message.level) level(message.level);
  if (message.partial !== undefined) {
    const live = message.partial !== "";
    $("hearing").toggleAttribute("data-live", live);
    if (live) {
      $("hearing-tag").textContent = "hearing";
      $("hearing-text").textContent = `${message.partial} …`;
    } else if (!message.board && shown) {
      $("hearing-tag").textContent = "heard";
      $("hearing-text").textContent = shown.said || "(typed)";
    }
  }
}

let stream = null;
function connect() {
  if (stream) stream.close();
  stream = new EventSource("/live");
  stream.onmessage = (event) => take(JSON.parse(event.data));
}

// Why nothing comes: the bench has ended, or does not know this device any more, or cannot be reached.
async function cut() {
  let [word, why, pair] = ["CUT OFF", "What stands here may be old. Trying again.", false];
  if (OVER.includes(now.state)) {
    [word, why] = ["ENDED", `The bench listens no more. What was read back is stored. ${now.trouble}`];
  }
  const known = await fetch("/devices").then((answer) => answer.status, () => 0);
  if (known === 401) [word, why, pair] = ["PAIR AGAIN", "The bench was started anew, or this device was sent away.", true];
  if (performance.now() - seen < 2500) return;
  $("stale-word").textContent = word;
  $("stale-why").textContent = why;
  $("stale-pair").hidden = !pair;
  $("stale").hidden = false;
}

let tried = 0;
setInterval(() => {
  const silent = performance.now() - seen;
  if (silent < 2500) return;
  if (performance.now() - tried < 2000) return;
  tried = performance.now();
  cut();
  // After a change of network the old stream is dead, though nothing says so.
  if (silent > (stream.readyState === EventSource.CLOSED ? 4000 : 8000)) connect();
}, 500);
connect();
keepOn();
touch($("touch"), $("touch-said"));
pad(() => board);

if (!$("mic").hidden) microphone($("mic"));
