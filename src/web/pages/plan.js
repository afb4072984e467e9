// The sheet and the plan. A step that is ticked is the same fit as the one that is spoken.
import { el, shape } from "./head.js";
import { list, results } from "./results.js";
import { send } from "./touch.js";

const $ = (id) => document.getElementById(id);

function step({ place, words, fits_nm }) {
  if (fits_nm === null) return el("li", {}, el("span", { class: "hand" }, "by hand"), words);
  const button = el("button", { type: "button", "aria-label": `fitted: ${words}` }, "fitted");
  button.addEventListener("click", () => fit(button, place, fits_nm));
  return el("li", {}, button, words);
}

async function fit(button, place, size_nm) {
  button.disabled = true;
  $("message").textContent = `${place}: storing`;
  const { done, why } = await send({ fitted: { place, size_nm } });
  button.disabled = false;
  if (why) $("message").textContent = why;
  else if (done.outcome === "stored") $("message").textContent = `Stored: ${done.spoken}`;
  else if (done.outcome === "asked") answer(done.spoken);
  else $("message").textContent = `Not stored: ${done.spoken || done.why}.`;
  again();
}

// The bench asks; it is answered here.
function answer(words) {
  const button = (label, press) => {
    const node = el("button", { type: "button" }, label);
    node.addEventListener("click", async () => {
      const { done, why } = await send({ press });
      $("message").textContent = why || done.spoken || done.why;
      again();
    });
    return node;
  };
  $("message").replaceChildren(`Not stored yet. ${words} `, button("yes", "affirm"), " ", button("no", "negative"));
}

function row(valve) {
  const verdict = el("span", { class: `verdict ${valve.verdict}` }, shape(valve.verdict), valve.words + (valve.near ? ", near: measure once more" : ""));
  const cell = (head, ...inside) => el("td", { "data-head": head }, ...inside);
  const why = [valve.reason, valve.next, valve.fit_reason].filter(Boolean).join(" ");
  return el("tr", {}, el("th", { scope: "row" }, valve.place), cell("clearance", valve.clearance), cell("rounds", ...valve.rounds.map((r) => el("p", {}, r))), el("td", {}, verdict),
    cell("shim", valve.shim), cell("to fit", valve.fit ? `${valve.sure ? "" : "? "}${valve.fit}` : ""), cell("then", valve.expected), el("td", {}, why));
}

const stop = ({ words, valves }) =>
  el("li", {}, `${words[0].toUpperCase()}${words.slice(1)}`, el("ul", {}, ...valves.map((valve) => el("li", {}, valve))));

// One tap on a size puts a shim into the box or takes one out, as if it had been said.
function box(spares) {
  $("box-now").textContent = spares.filter((s) => s.count > 0).map((s) => `${s.count} × ${s.words}`).join(", ") || "Nothing lies in it.";
  $("box").replaceChildren(...spares.map(({ size_nm, words, count }) => {
    const button = el("button", { type: "button", id: `size-${size_nm}`, "aria-label": `${words}: ${count} in the box` }, words, el("b", {}, count > 0 ? ` × ${count}` : ""));
    button.addEventListener("click", () => put(button, size_nm, count));
    return button;
  }));
}

async function put(button, size_nm, count) {
  const now = count + Number(document.querySelector("[name=way]:checked").value);
  if (now < 0) { $("message").textContent = "None of that size lies in the box."; return; }
  button.disabled = true;
  const { done, why } = await send({ spare: { size_nm, count: now } });
  if (why) $("message").textContent = why;
  else if (done.outcome === "asked") answer(done.spoken);
  else $("message").textContent = done.outcome === "stored" ? `Stored: ${done.spoken}` : `Not stored: ${done.spoken || done.why}.`;
  await again();
  button.disabled = false;
  $(`size-${size_nm}`)?.focus();
}

const point = (text) => text.trim().replaceAll(",", ".");
const sizes = (text) => text.trim().split(/[\s;]+/).map((word) => point(word.replace(/,$/, ""))).join(",");

$("if").addEventListener("submit", async (event) => {
  event.preventDefault();
  const entered = [...new FormData($("if"))].filter(([, text]) => text.trim());
  const changes = entered.map(([key, text]) => `${key}=${key.endsWith("target") ? point(text) : sizes(text)}`);
  const say = (...words) => $("if-result").replaceChildren(...words);
  let answer;
  try {
    answer = await fetch("/what-if", { method: "POST", body: JSON.stringify(changes) });
  } catch {
    say("The bench does not answer.");
    return;
  }
  if (!answer.ok) { say(el("p", { class: "fault" }, await answer.text())); return; }
  const plan = await answer.json();
  const steps = plan.steps.map((s) => el("li", {}, s.words));
  say(el("p", { class: "state" }, `Then: ${plan.headline}`), el("ol", {}, ...steps),
    el("p", {}, plan.buy.length > 0 ? `To buy: ${plan.buy.join(", ")}.` : "Nothing to buy."));
});

function show({ plan, valves, measured, in_band, remarks, stops, assumed_timing, no_stops, standing_by, spares, unit }) {
  $("headline").textContent = plan.headline;
  $("paused").hidden = !standing_by;
  $("steps").replaceChildren(...plan.steps.map(step));
  const cut = plan.proven ? [] : ["The search was cut short: this is the best found, and a cheaper plan may exist."];
  list("cautions", [...plan.waiting, ...plan.left_alone, ...plan.disturbs, ...cut]);
  list("buy", plan.buy.length > 0 ? plan.buy : ["Nothing to buy."]);
  $("together").textContent = plan.together ? `Together ${plan.together}.` : "";
  $("stops").replaceChildren(...stops.map(stop));
  $("no-stops").textContent = no_stops || (stops.length === 0 ? "Every valve is measured." : assumed_timing ? "The cam timing is not known: a wide one was taken." : "");
  $("summary").textContent = `${measured} measured, ${valves.length - measured} to go, ${in_band} in band`;
  $("sheet").replaceChildren(...valves.map(row));
  list("remarks", remarks);
  box(spares);
  for (const node of document.querySelectorAll("#if .unit")) node.textContent = unit;
}

$("listen").addEventListener("click", async () => {
  const { why } = await send({ press: "listen" });
  $("message").textContent = why || "";
  again();
});
const again = results(show);
