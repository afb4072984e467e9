// The page of jobs: the jobs that lie there, and a new one made by answering.
import { cylinders, el } from "./head.js";

const $ = (id) => document.getElementById(id);
let home = null, off = false;

async function post(path, body) {
  try {
    const answer = await fetch(path, { method: "POST", body: JSON.stringify(body) });
    return answer.ok ? { done: await answer.json() } : { why: await answer.text(), asks: answer.status === 428 };
  } catch {
    return { why: "The bench does not answer." };
  }
}

// Asks for a job and waits until it is open: its recogniser takes a moment.
async function goOn(name) {
  $("message").textContent = name === null ? "Ending" : `Opening ${name}`;
  const { why } = await post("/jobs/go-on", { job: name });
  if (why) { $("message").textContent = why; return; }
  for (;;) {
    const now = await fetch("/jobs.json").then((answer) => answer.json(), () => null);
    if (!now) { $("message").textContent = "The bench does not answer."; return; }
    if (name !== null && now.open === name) { location.assign("/"); return; }
    if (name === null ? now.open === null : now.opening !== name) { load(); return; }
    await new Promise((go) => setTimeout(go, 800));
  }
}

$("end").addEventListener("click", async () => {
  const { why } = await post("/jobs/end", null);
  off = !why;
  $("message").textContent = why ?? "The bench is off. Its icon starts it again; what was read back is stored.";
});

// A report's JSON becomes a job again. It may be chosen once more after it was put right.
$("saved").addEventListener("change", async () => {
  const [file] = $("saved").files;
  if (!file) return;
  $("message").textContent = `Bringing back ${file.name}`;
  const answer = file.size > 512 << 20 ? null : await fetch("/jobs/bring-back", { method: "POST", body: file }).catch(() => undefined);
  const why = answer === null ? "it is longer than 512 MB: save it again without its sounds"
    : !answer ? "the bench does not answer" : answer.ok ? "" : await answer.text();
  $("saved").value = "";
  if (!why) await load();
  $("message").textContent = why ? `Not brought back: ${why}.` : `Brought back: ${(await answer.json()).name}. It stands in the list.`;
});

// What checks out of a damaged job becomes a job of its own. If its engine is lost, it is asked.
async function saveRest(entry, item, chosen = { engine: null, unit: "" }) {
  $("message").textContent = `Saving what is left of ${entry.name}`;
  const { done, why, asks } = await post("/jobs/save-rest", { job: entry.name, ...chosen });
  if (asks) {
    $("message").textContent = `${entry.name}: ${why}.`;
    const select = (label, ...options) => el("select", { "aria-label": label }, ...options.map(([value, words]) => el("option", { value }, words)));
    const which = select("Engine of the damaged job", ...home.engines.map((e) => [e.key, e.name]));
    const numbers = select("Numbers of the damaged job", ["mm", "hundredths of a millimetre"], ["thou", "thousandths of an inch"]);
    const go = el("button", { type: "button" }, "save it");
    go.addEventListener("click", () => saveRest(entry, item, { engine: which.value, unit: numbers.value }));
    item.querySelector(".rest")?.remove();
    item.append(el("div", { class: "rest" }, which, numbers, go));
    which.focus();
    return;
  }
  if (!why) await load();
  $("message").textContent = why ? `Not saved: ${why}.` : `Saved as ${done.name}. ${done.said}`;
  scrollTo(0, 0);
}

function job(entry) {
  const button = (label, act) => {
    const node = el("button", { type: "button", "aria-label": `${label}: ${entry.name}` }, label);
    node.addEventListener("click", act);
    return node;
  };
  const now = home.open === entry.name;
  const rest = button("save what is left", () => saveRest(entry, item));
  const acts = entry.fault ? (entry.saveable ? [rest] : []) : [button(now ? "to the board" : "go on", () => goOn(entry.name)), ...(now ? [button("end", () => goOn(null))] : [])];
  const line = (words, kind = "") => el("p", { class: kind }, words);
  const when = entry.last_ms ? new Date(entry.last_ms).toLocaleString([], { dateStyle: "medium", timeStyle: "short" }) : "";
  const done = [`${entry.measured} of ${entry.total} measured`, entry.stage && `in ${entry.stage}`, entry.open && `${entry.open} open`].filter(Boolean).join(", ");
  const item = el("li", now ? { class: "now" } : {}, el("h3", {}, entry.name), el("div", { class: "acts" }, ...acts),
    ...(entry.fault ? [line(entry.fault, "fault")] : [line(entry.engine), ...(entry.about ? [line(entry.about)] : []), line(`${done}. ${when}`)]),
    ...(now ? [line("open now", "state")] : []));
  return item;
}

const engine = () => home?.engines.find((e) => e.key === document.querySelector("[name=engine]:checked")?.value);
const unit = () => document.querySelector("[name=unit]:checked").value;

function tap(type, name, value, words, checked) {
  const input = el("input", { type, name, value });
  input.checked = checked;
  return el("label", { class: "tap" }, input, words);
}

// What was answered so far outlives a reload, and the way to the page of engines and back.
const DRAFT = "new job", TOLD = ["machine", "owner", "number", "mileage"];
const answers = () => ({
  engine: engine()?.key, unit: unit(), language: document.querySelector("[name=language]:checked")?.value,
  missing_nm: [...document.querySelectorAll("[name=blade]:not(:checked)")].map((b) => b.value), ...Object.fromEntries(TOLD.map((id) => [id, $(id).value])),
});
const draft = () => JSON.parse(sessionStorage.getItem(DRAFT) ?? "{}");
const keep = () => sessionStorage.setItem(DRAFT, JSON.stringify(answers()));

function drawn(missing_nm = null) {
  const { numbering, source, valves, blades } = engine();
  $("numbering").textContent = numbering;
  $("source").textContent = source;
  $("head").replaceChildren(...cylinders(valves).map((pot) => {
    const row = (side) => el("div", { class: "side" }, ...pot[side].map((v) => el("span", {}, v.name || side)));
    const name = pot.head ? [el("div", { class: "of-head" }, pot.head)] : [];
    return el("div", { class: "pot" }, ...name, el("div", {}, "exhaust"), row("exhaust"), el("h3", {}, String(pot.number)), row("inlet"), el("div", {}, "inlet"));
  }));
  const missing = missing_nm ?? answers().missing_nm;
  $("blades").replaceChildren(...blades.map((b) => tap("checkbox", "blade", b.nm, b[unit()], !missing.includes(String(b.nm)))));
}

async function load() {
  if (off) return;
  const answer = await fetch("/jobs.json").catch(() => null);
  if (!answer?.ok) { $("message").textContent = answer ? await answer.text() : "The bench does not answer."; return; }
  home = await answer.json();
  // The first page is the board as soon as a job is open.
  if (location.pathname === "/" && home.open) { location.replace("/"); return; }
  $("message").textContent = home.opening ? `Opening ${home.opening}` : home.trouble;
  if (home.opening) setTimeout(load, 800);
  $("none").hidden = home.jobs.length > 0;
  $("jobs").replaceChildren(...home.jobs.map(job));
  $("folder").textContent = `They lie in ${home.folder}.`;
  if (!$("engines").childElementCount) {
    const told = draft();
    const wanted = new URLSearchParams(location.search).get("engine") ?? told.engine;
    const first = Math.max(home.engines.findIndex((e) => e.key === wanted), 0);
    $("engines").replaceChildren(...home.engines.map((e, i) => el("div", { class: "engine" }, tap("radio", "engine", e.key, e.name, i === first),
      ...(e.own ? [el("a", { class: "tap", href: `/engine?own=${e.key}`, "aria-label": `change ${e.name}` }, "change")] : []))));
    $("languages").replaceChildren(...home.languages.map(([key, name], i) => tap("radio", "language", key, name, told.language ? key === told.language : i === 0)));
    for (const id of TOLD) $(id).value = told[id] ?? "";
    const called = document.querySelector(`[name=unit][value="${told.unit}"]`);
    if (called) called.checked = true;
    drawn(told.missing_nm ?? []);
  }
  document.body.dataset.ready = "yes";
}

$("new").addEventListener("change", (event) => { if (["engine", "unit"].includes(event.target.name)) drawn(); keep(); });
$("new").addEventListener("input", keep);
$("new").addEventListener("submit", async (event) => {
  event.preventDefault();
  $("make").disabled = true;
  const blades_nm = [...document.querySelectorAll("[name=blade]:checked")].map((b) => Number(b.value));
  const about = Object.fromEntries(TOLD.map((id) => [id, $(id).value]));
  const { done, why } = await post("/jobs/new", { engine: engine().key, unit: unit(), language: document.querySelector("[name=language]:checked").value, blades_nm, ...about });
  $("make").disabled = false;
  if (why) { $("message").textContent = `Not made: ${why}`; scrollTo(0, 0); return; }
  sessionStorage.removeItem(DRAFT);
  goOn(done.name);
});
addEventListener("focus", load);
load();
