// The review: every utterance with its sound; each edit is a new entry of the job.
import { el } from "./head.js";

const $ = (id) => document.getElementById(id);
const WORDS = { stored: "stored", asked: "asked", refused: "refused", ignored: "ignored" };
const DONE = { confirm: "heard rightly", store: "stored after all", correct: "put right", reject: "must not count" };
// The utterances, and the place of each by its number.
const rows = [];
const places = new Map();
let session = null;
let current = null;

const FILTERS = {
  all: () => true,
  doubt: (r) => !r.review && r.cancelled_by === null && (r.outcome === "asked" || r.outcome === "refused" || r.lost > 0 || (r.clip && r.outcome === "stored" && r.confidence < 0.98)),
  changed: (r) => r.cancelled_by !== null || (r.review && r.review.how !== "confirmed"),
  unchecked: (r) => !r.review,
  stored: (r) => r.counts !== "",
  ignored: (r) => r.outcome === "ignored",
  differs: (r) => r.other && !r.other.same_words,
};

const time = (ms) => new Date(ms).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit", hour12: false });

const day = (ms) => new Date(ms).toLocaleDateString([], { dateStyle: "medium" });

// The valves and the days that there are, to choose from.
function choices() {
  const fill = (select, all) => {
    const before = select.value, first = select.options[0];
    select.replaceChildren(first, ...all.map((v) => el("option", { value: v }, v)));
    select.value = all.includes(before) ? before : "";
  };
  fill($("valve"), [...new Set(rows.map((r) => r.place).filter(Boolean))].sort());
  const days = [...new Set(rows.map((r) => day(r.at_ms)))];
  fill($("day"), days);
  $("day").hidden = days.length < 2;
  const whose = $("whose").value;
  $("whose").replaceChildren(...[...$("whose").options].slice(0, 2), ...days.map((d) => el("option", { value: d }, `of ${d}`)));
  $("whose").value = ["ignored", "all", ...days].includes(whose) ? whose : "ignored";
}

// How much less likely the recogniser found its second choice; a nat is a factor of e.
function odds(nats) {
  const times = Math.round(Math.exp(nats));
  return times > 1 ? `${times} times less likely` : "about as likely";
}

function build(row) {
  const item = el("li", { class: `row ${row.outcome}`, role: "listitem", tabindex: "-1", "data-id": row.id });
  item.classList.toggle("gone", row.cancelled_by !== null || row.replaced_by !== null);
  const state = el("div", {}, el("span", { class: "outcome" }, WORDS[row.outcome]));
  const mark = (text) => state.append(el("span", { class: "mark" }, text));
  if (row.review) mark(`✓ ${row.review.how}`);
  const leads = (words, id) => {
    const link = el("a", { class: "mark", href: `#${id}` }, `${words} ${id}`);
    link.addEventListener("click", (event) => { event.preventDefault(); go(id); });
    state.append(link);
  };
  if (row.cancelled_by !== null) leads("taken back by", row.cancelled_by);
  else if (row.replaced_by !== null) leads("replaced by", row.replaced_by);
  if (row.lost > 0) mark("sound was lost");
  const text = el("div", { class: "text" }, el("p", { class: "said" }, row.said || "(nothing)"));
  const line = (kind, words) => text.append(el("p", { class: kind }, words));
  if (row.counts) line("counts", row.counts);
  else if (row.cancelled_by !== null) line("counts", row.read_back);
  if (row.proposed) line("asked-for", `asked for: ${row.proposed}${row.counts ? "" : row.answer ? `, ${row.answer}` : ""}`);
  if (row.choices.length > 0) line("asked-for", `or: ${row.choices.join("; ")}`);
  if (row.rival) line("rival", `or, ${odds(row.rival.margin_nats)}: ${row.rival.said}`);
  if (row.review && row.review.how === "put right") line("truth", `really said: ${row.review.truth}`);
  if (row.other && !row.other.same_words) line("other", `other recogniser: ${row.other.said || "(nothing)"}${row.other.same_meaning ? ", the same meaning" : ", another meaning"}`);
  const sure = row.clip ? `, ${Math.round(row.confidence * 100)} % sure` : "";
  line("why", `${row.id}: ${row.why}${row.outcome === "ignored" ? "" : sure}`);
  const sound = el("div", { class: "sound" });
  if (row.clip) {
    const button = el("button", { type: "button", tabindex: "-1", "aria-label": `Play utterance ${row.id}` }, "Play");
    button.addEventListener("click", () => play(row));
    sound.append(el("canvas", { width: 360, height: 88, role: "img", "aria-label": `Waveform, ${(row.length_ms / 1000).toFixed(1)} s` }), button);
  } else {
    sound.append("typed, no sound");
  }
  item.append(el("span", { class: "time" }, time(row.at_ms)), state, text, sound);
  watcher.observe(item);
  return item;
}

// Buttons are made for the row that has the focus only.
function acts(item, row) {
  if (item.querySelector(".acts")) return;
  item.append(el("div", { class: "acts" },
    button("Heard rightly (c)", () => edit({ confirm: row.id })),
    ...(row.may_store ? [button("Store it (s)", () => edit({ store: row.id }))] : []),
    button("Put right (e)", () => correct(item, row)),
    button("Must not count (x)", () => edit({ reject: row.id }))));
}

function correct(item, row) {
  acts(item, row);
  const box = item.querySelector(".acts");
  const input = el("input", { "aria-label": "What was really said", maxlength: "2000", value: row.review?.truth || row.said });
  const save = el("button", { type: "button" }, "Save");
  const done = () => edit({ correct: [row.id, input.value, false] });
  save.addEventListener("click", done);
  input.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Enter") done();
    if (event.key === "Escape") { item.focus(); input.remove(); save.remove(); }
  });
  box.querySelector("input")?.remove();
  box.prepend(input, save);
  input.focus();
  input.select();
  into(item);
}

// The row grows by its buttons once it has the focus: they belong into sight too.
const into = (item) => requestAnimationFrame(() => item.scrollIntoView({ block: "nearest" }));

const button = (label, act) => {
  const node = el("button", { type: "button" }, label);
  node.addEventListener("click", act);
  return node;
};

// Edits that the bench has not stored, because it did not answer: kept until it does.
const unsent = new Map();
const kept = () => `unsent ${session.begun_ms}`;
function keep() {
  localStorage.setItem(kept(), JSON.stringify([...unsent]));
  $("unsent").hidden = unsent.size === 0;
  $("unsent").replaceChildren(...[...unsent].map(([id, what]) => {
    const [kind, truth] = told(what);
    return el("li", {}, `NOT STORED: ${id} ${DONE[kind]}${truth ? `: ${truth}` : ""}. The bench does not answer. `,
      button("Send again", () => edit(what)), " ", button("Forget it", () => { unsent.delete(id); keep(); }));
  }));
}
const told = (what) => Object.entries(what).map(([kind, v]) => [kind, [v].flat()[1]])[0];
const about = (what) => [Object.values(what)[0]].flat()[0];

// The edit after which an utterance is as it was.
function back(row, kind) {
  if (row.review?.how === "confirmed") return { confirm: row.id };
  if (row.review?.how === "rejected") return { reject: row.id };
  if (row.review) return { correct: [row.id, row.review.truth, true] };
  return { store: { reject: row.id }, reject: { confirm: row.id }, correct: { confirm: row.id } }[kind];
}

// What was stored is said only once it is; what was not stays to be sent again.
async function edit(what) {
  const id = about(what), [kind, truth] = told(what);
  const row = rows.find((r) => r.id === id);
  const say = (...words) => $("message").replaceChildren(...words);
  say(`${id}: storing`);
  let answer;
  try {
    answer = await fetch("/edit", { method: "POST", body: JSON.stringify(what) });
  } catch {
    unsent.set(id, what);
    keep();
    say("");
    return;
  }
  unsent.delete(id);
  keep();
  if (answer.status === 428) {
    const sure = { correct: [id, truth, true] };
    say(`Not stored yet. The bench asks: ${await answer.text()} `, button("Yes, store it", () => edit(sure)), " ", button("No", () => say("Nothing stored.")));
    return;
  }
  if (!answer.ok) {
    say(`Not stored: ${await answer.text()}`);
    return;
  }
  await news();
  const undo = row && back(row, kind);
  say(`Stored: ${id} ${DONE[kind]}${truth ? `: ${truth}` : ""} `, ...(undo ? [button("Undo", () => edit(undo))] : []));
  item(current)?.focus();
}

// Shows an utterance, whatever was filtered out.
function go(id) {
  if (!item(id)) return;
  if (item(id).hidden) {
    for (const [select, value] of [["filter", "all"], ["valve", ""], ["day", ""]]) $(select).value = value;
    filter();
  }
  item(id).focus();
}

const item = (id) => $("rows").querySelector(`[data-id="${id}"]`);

// Asks what changed since the last answer, one after the other, so that none comes too late; why nothing
// was shown, or nothing.
let asked = Promise.resolve();
const news = () => (asked = asked.then(look, look));
async function look() {
  const answer = await fetch(`/session.json?seen=${session?.seen ?? 0}`).catch(() => null);
  if (!answer) return "The bench does not answer.";
  return answer.ok ? take(await answer.json()) : answer.text();
}

function take(fresh) {
  // Another job is open by now, or less of this one could be read: the numbers mean something else.
  if (session && (session.begun_ms !== fresh.begun_ms || fresh.count < rows.length)) {
    location.reload();
    return "Another job is open.";
  }
  session = fresh;
  const focused = document.activeElement?.closest(".row")?.dataset.id, more = [];
  // What stays as it was keeps its place, and the focus: the bench may be adding to the end.
  for (const row of fresh.rows) {
    const place = places.get(row.id);
    if (place === undefined) {
      places.set(row.id, rows.length);
      rows.push(row);
      more.push(build(row));
    } else if (JSON.stringify(rows[place]) !== JSON.stringify(row)) {
      rows[place] = row;
      item(row.id).replaceWith(build(row));
    }
  }
  $("rows").append(...more);
  choices();
  $("damage").textContent = fresh.damage ?? "";
  $("damage").hidden = !fresh.damage;
  filter();
  if (focused && !document.activeElement?.closest(".row")) item(focused)?.focus();
  return "";
}

function filter() {
  const wanted = FILTERS[$("filter").value], [valve, on_day] = [$("valve").value, $("day").value];
  let count = 0;
  rows.forEach((row, i) => {
    const on = Boolean(wanted(row)) && (!valve || row.place === valve) && (!on_day || day(row.at_ms) === on_day);
    $("rows").children[i].hidden = !on;
    count += on;
  });
  const checked = rows.filter((r) => r.review).length;
  $("engine").textContent = session.engine;
  $("counts").textContent = `${count} of ${rows.length} utterances shown; ${checked} checked`;
  $("none").hidden = count > 0;
  const here = current === null ? null : item(current);
  // What was checked may go out of sight: the next one takes its place.
  let node = here || $("rows").firstElementChild;
  while (node?.hidden) node = node.nextElementSibling;
  node ||= visible().at(-1);
  if (node) choose(node);
}

const visible = () => [...$("rows").children].filter((node) => !node.hidden);

function choose(node) {
  const before = current === null ? null : item(current);
  if (before) {
    before.setAttribute("tabindex", "-1");
    before.removeAttribute("aria-current");
    before.querySelector(".sound button")?.setAttribute("tabindex", "-1");
  }
  current = Number(node.dataset.id);
  node.setAttribute("tabindex", "0");
  node.setAttribute("aria-current", "true");
  node.querySelector(".sound button")?.setAttribute("tabindex", "0");
  acts(node, rows.find((r) => r.id === current));
}

$("rows").addEventListener("focusin", (event) => {
  const node = event.target.closest(".row");
  if (!node) return;
  choose(node);
  into(node);
});
$("rows").addEventListener("click", (event) => {
  const node = event.target.closest(".row");
  if (node && !event.target.closest("a, button, input")) node.focus();
});
// Keys act only on the utterance that has the focus.
$("rows").addEventListener("keydown", (event) => {
  const node = event.target;
  if (!node.classList.contains("row") || event.ctrlKey || event.metaKey || event.altKey) return;
  const row = rows.find((r) => r.id === Number(node.dataset.id));
  const step = (by) => {
    const all = visible();
    all[all.indexOf(node) + by]?.focus();
  };
  const acts = {
    ArrowDown: () => step(1), ArrowUp: () => step(-1), " ": () => play(row),
    c: () => edit({ confirm: row.id }),
    s: () => row.may_store && edit({ store: row.id }),
    x: () => edit({ reject: row.id }),
    e: () => correct(node, row),
  };
  if (acts[event.key]) { event.preventDefault(); acts[event.key](); }
});
for (const select of ["filter", "valve", "day"]) $(select).addEventListener("change", () => { filter(); scrollTo(0, 0); });
$("export").addEventListener("click", async () => {
  const answer = await fetch("/export", { method: "POST" }).catch(() => null);
  if (!answer?.ok) { $("message").textContent = answer ? await answer.text() : "The bench does not answer."; return; }
  const { count, folder, lost } = await answer.json();
  $("message").textContent = `${count} checked clips written to ${folder}.${lost.length > 0 ? ` Without ${lost.join("; ")}.` : ""}`;
});
// Sounds are removed only after a second word: they never come back.
$("forget").addEventListener("click", () => {
  const whose = $("whose").value, words = $("whose").selectedOptions[0].textContent;
  const say = (...all) => $("message").replaceChildren(...all);
  const from = new Date(rows.find((r) => day(r.at_ms) === whose)?.at_ms ?? 0);
  from.setHours(0, 0, 0, 0);
  const to = new Date(from);
  to.setDate(to.getDate() + 1);
  const what = ["ignored", "all"].includes(whose) ? whose : { of: [from.getTime(), to.getTime()] };
  say(`Remove the sounds ${words}? They cannot be brought back. `, button("Yes, remove them", async () => {
    const answer = await fetch("/forget", { method: "POST", body: JSON.stringify(what) }).catch(() => null);
    if (!answer?.ok) { say(answer ? await answer.text() : "The bench does not answer: nothing was removed."); return; }
    const { why } = await answer.json();
    clips.clear();
    await refresh();
    say(why ? `Done: ${why}. Every reading stays.` : "There is no such sound; nothing was removed.");
  }), " ", button("No", () => say("Nothing was removed.")));
});
// Once the bench is there again, what it missed is sent again.
async function resend() {
  if (await news()) return;
  for (const what of [...unsent.values()]) await edit(what);
}

// Sounds are fetched when their row comes into view.
const clips = new Map();
function clip(row) {
  if (!clips.has(row.clip)) clips.set(row.clip, fetch(`/clip/${row.clip}.wav`).then((answer) => answer.ok ? answer.arrayBuffer() : null));
  return clips.get(row.clip);
}

const watcher = new IntersectionObserver((seen) => {
  for (const { target, isIntersecting } of seen) {
    const canvas = target.querySelector("canvas");
    if (!isIntersecting || !canvas || canvas.dataset.drawn) continue;
    canvas.dataset.drawn = "yes";
    const row = rows.find((r) => r.id === Number(target.dataset.id));
    if (row) clip(row).then((wav) => draw(canvas, wav));
  }
}, { rootMargin: "200px" });

function draw(canvas, wav) {
  const pen = canvas.getContext("2d");
  const { width, height } = canvas;
  pen.fillStyle = getComputedStyle(canvas).color;
  if (!wav) { pen.font = "28px sans-serif"; pen.fillText("no sound kept", 8, height / 2); return; }
  const samples = new Int16Array(wav.slice(44, wav.byteLength - (wav.byteLength - 44) % 2));
  let loudest = 1;
  for (const sample of samples) loudest = Math.max(loudest, Math.abs(sample));
  for (let x = 0; x < width; x += 3) {
    let most = 0;
    const end = Math.floor((x + 3) * samples.length / width);
    for (let i = Math.floor(x * samples.length / width); i < end; i += 1) most = Math.max(most, Math.abs(samples[i]));
    const tall = Math.max(2, most / loudest * height);
    pen.fillRect(x, (height - tall) / 2, 2, tall);
  }
}

// Drawn again in the ink of the other scheme.
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
  for (const canvas of $("rows").querySelectorAll("canvas[data-drawn]")) {
    canvas.width += 0; // empties it
    const row = rows.find((r) => r.id === Number(canvas.closest(".row").dataset.id));
    clip(row).then((wav) => draw(canvas, wav));
  }
});

let sounding = null;
async function play(row) {
  if (!row.clip) return;
  const wav = await clip(row);
  if (!wav) return;
  sounding?.pause();
  if (sounding) URL.revokeObjectURL(sounding.src);
  sounding = new Audio(URL.createObjectURL(new Blob([wav], { type: "audio/wav" })));
  sounding.play();
}

$("weights").addEventListener("change", async () => {
  const [file] = $("weights").files;
  if (!file) return;
  $("message").textContent = `Taking ${file.name}`;
  const answer = await fetch(`/hear-again/with/${encodeURIComponent(file.name)}`, { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: file }).catch(() => null);
  $("weights").value = "";
  if (!answer?.ok) { $("message").textContent = answer ? await answer.text() : "The bench does not answer."; return; }
  hearAgain();
});

async function hearAgain() {
  $("again").disabled = true;
  for (;;) {
    const answer = await fetch("/hear-again", { method: "POST" });
    if (!answer.ok) { $("message").textContent = await answer.text(); break; }
    const { done, total } = await answer.json();
    $("message").textContent = `Heard again: ${done} of ${total || "?"}`;
    if (total > 0 && done >= total) {
      await news();
      $("filter").value = "differs";
      filter();
      break;
    }
    await new Promise((go) => setTimeout(go, 500));
  }
  $("again").disabled = false;
}
$("again").addEventListener("click", hearAgain);

// What another page or the bench adds is shown here too: every two seconds at most, the last of it too,
// and not while a correction is being typed.
let due = 0, later = 0;
async function refresh() {
  clearTimeout(later);
  const wait = document.activeElement?.matches(".acts input") ? 1000 : due - Date.now();
  if (wait > 0) { later = setTimeout(refresh, wait); return; }
  due = Date.now() + 2000;
  await news();
}
addEventListener("focus", refresh);
const live = new EventSource("/live");
live.onopen = () => { if (unsent.size > 0) resend(); };
live.onmessage = (event) => { if (session && JSON.parse(event.data).board) refresh(); };

const why = await news();
if (why === "") {
  // If nothing wants a look, everything is shown.
  if (!rows.some(FILTERS.doubt)) { $("filter").value = "all"; filter(); }
  for (const [id, what] of JSON.parse(localStorage.getItem(kept()) ?? "[]")) unsent.set(id, what);
  keep();
  if (session.other_recogniser) {
    $("again").hidden = false;
    $("again").textContent = `Hear all again with ${session.other_recogniser}`;
  }
  requestAnimationFrame(() => { document.body.dataset.ready = Math.round(performance.now()); });
} else {
  $("message").textContent = why;
}
