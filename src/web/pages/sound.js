// The sound check: which microphone, how it sounds, and what a phrase was understood as.
import { el } from "./head.js";

const $ = (id) => document.getElementById(id);
const SWITCHES = ["headset", "push_to_talk"];
let names = "", heard = "";

async function post(ask) {
  try {
    const answer = await fetch("/sound/ask", { method: "POST", body: JSON.stringify(ask) });
    return answer.ok ? { done: await answer.json() } : { why: await answer.text() };
  } catch {
    return { why: "The bench does not answer." };
  }
}

function fill(select, all, chosen) {
  // A name that was given in part is that of the one it fits.
  const is = (name) => chosen !== null && name.includes(chosen);
  select.replaceChildren(el("option", { value: "" }, "the default one"), ...all.map((name) => el("option", { value: name }, name)));
  select.value = all.find(is) ?? "";
}

function show(now) {
  const fresh = JSON.stringify([now.microphones, now.speakers, now.microphone, now.speaker]);
  if (fresh !== names) {
    names = fresh;
    fill($("microphone"), now.microphones, now.microphone);
    fill($("speaker"), now.speakers, now.speaker);
  }
  for (const which of SWITCHES) $(which).checked = now[which];
  $("delay").textContent = now.delay;
  $("say").textContent = now.say;
  $("source").textContent = now.source ? `Listening to ${now.source}.` : "";
  $("level").value = now.level_dbfs ?? -80;
  $("level-words").textContent = now.words || "not listening yet";
  $("message").textContent = now.job_open ? "A job is open: its board shows the level, and what you say is stored in it. End it to try phrases here." : now.trouble;
  const words = JSON.stringify(now.heard);
  if (words !== heard) {
    heard = words;
    $("heard").replaceChildren(...now.heard.map((p) => el("li", {},
      el("p", { class: "state" }, `${p.right ? "✓" : "?"} ${p.understood}`),
      el("p", {}, `heard: “${p.said}”, ${p.confidence_percent} % sure`),
      ...(p.advice ? [el("p", { class: "advice" }, p.advice)] : []))));
  }
  document.body.dataset.ready = "yes";
}

async function change(ask) {
  const { done, why } = await post(ask);
  if (why) $("message").textContent = why; else show(done);
}
for (const which of ["microphone", "speaker"]) $(which).addEventListener("change", () => change({ [which]: $(which).value || null }));

for (const which of SWITCHES) $(which).addEventListener("change", () => change({ [which]: $(which).checked }));
$("measure").addEventListener("click", () => change("delay"));

async function ask() {
  if (!document.hidden) {
    const { done, why } = await post("now");
    if (why) { $("message").textContent = why; document.body.dataset.ready = "no"; } else show(done);
  }
  setTimeout(ask, 300);
}
ask();
