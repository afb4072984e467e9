// The board: shows what the bench sends, and says so when it sends nothing any more.
import { dial, el, head } from "./head.js";
import { microphone } from "./phone.js";

const $ = (id) => document.getElementById(id);
const STATES = {
  starting: ["getting ready", "M20 4a16 16 0 1 0 .1 0zm0 6a10 10 0 1 1-.1 0z"],
  listening: ["listening", "M20 3a7 7 0 0 1 7 7v9a7 7 0 0 1-14 0v-9a7 7 0 0 1 7-7zM7 18h4a9 9 0 0 0 18 0h4a13 13 0 0 1-11 13v6h-4v-6A13 13 0 0 1 7 18z"],
  stand_by: ["STAND BY", "M9 4h8v32H9zM23 4h8v32h-8z", "say “listen”"],
  asking: ["asked", "M20 2 38 36H2zM18 13h4v12h-4zm0 15h4v4h-4z", "“affirm” or “negative”?"],
  ended: ["not listening: ended", "M5 5h30v30H5z"],
};
const OUTCOMES = { stored: "stored", asked: "asked, not stored", refused: "refused, not stored" };
let seen = 0;
let shown = null;

function show(board) {
  const [word, path, say] = STATES[board.state] || STATES.starting;
  document.body.dataset.state = board.state;
  $("state-word").textContent = word;
  $("state-say").textContent = say || "";
  $("state-shape").setAttribute("d", path);
  const left = board.total - board.measured;
  $("left-count").textContent = left;
  $("left-word").textContent = `of ${board.total} to measure`;
  const last = board.last;
  if (last) {
    $("hearing-text").textContent = last.said || "(typed)";
    $("outcome").dataset.outcome = last.outcome;
    // A command stores no reading.
    const done = last.outcome === "stored" && last.value === "" && last.words !== "noted";
    $("outcome-word").textContent = done ? "done" : OUTCOMES[last.outcome] || last.outcome;
    $("place").textContent = last.place;
    const value = last.value || last.words;
    // The unit stands smaller, so that the figures stay large and neither is cut off.
    const [, figures, unit] = value.match(/^(.*\d) (\S+)$/) || [null, value, ""];
    $("value").replaceChildren(figures, ...(unit ? [" ", el("small", {}, unit)] : []));
    $("value").classList.toggle("long", figures.length > (unit ? 14 : 17));
    $("value").classList.toggle("middling", figures.length > 10);
    $("words").textContent = last.value ? `» ${last.words}` : "";
    if (!shown || shown.event !== last.event) {
      $("aloud").textContent = `${$("outcome-word").textContent}: ${last.place} ${value}`;
      document.body.dataset.lag = Date.now() - last.at_ms;
      document.body.dataset.event = last.event;
    }
    shown = last;
  }
  if (board.ignored !== null) {
    $("hearing-tag").textContent = "not for me";
    $("hearing-text").textContent = board.ignored || "a noise";
  } else {
    $("hearing-tag").textContent = "heard";
  }
  const next = board.next;
  $("next-place").textContent = next ? next.place : "all measured";
  dial($("dial"), next, board.crank_deg);
  $("dial").toggleAttribute("hidden", !next);
  $("next-turn").replaceChildren();
  if (next && next.crank_deg !== null) {
    const turn = next.crank_deg < 360 ? "cylinder 1 has fired" : "one turn after cylinder 1 fired";
    const here = next.here.length > 1 ? ` ${next.here.length} valves stand free here.` : "";
    const past = next.crank_deg % 360;
    $("next-turn").append(el("b", {}, past === 0 ? "turn to mark 1" : `turn to ${past}° past mark 1`),
      `${turn}${board.assumed_timing ? ", timing assumed" : ""}.${here}`);
  }
  $("head").replaceChildren(...head(board));
  $("source").textContent = `${board.engine}; ${board.numbering}. Microphone: ${board.source}.`;
}

function level({ dbfs, heard }) {
  const share = Math.max(0, Math.min(1, (dbfs + 70) / 65));
  $("meter-bar").style.width = `${Math.round(share * 100)}%`;
  $("meter-word").textContent = dbfs <= -99 ? "no sound" : heard ? "hears you" : "quiet";
}

function take(message) {
  seen = performance.now();
  $("stale").hidden = true;
  if (message.board) show(message.board);
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
setInterval(() => {
  const silent = performance.now() - seen;
  if (silent > 2500) $("stale").hidden = false;
  if (silent > 4000 && stream.readyState === EventSource.CLOSED) connect();
}, 500);
connect();

if (!$("mic").hidden) microphone($("mic"));
