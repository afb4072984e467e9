// An engine, entered from its manual. The boxes come from one description; what they come to, and what
// is wrong with them, is asked of the bench while they are filled in.
import { cylinders, dial, el, svg } from "./head.js";

const $ = (id) => document.getElementById(id);
const query = new URLSearchParams(location.search);
const of = query.has("job") ? "job" : query.has("own") ? { own: query.get("own") } : "new";
const DRAFT = `engine ${JSON.stringify(of)}`;
let page = null, visited = new Set(), pressed = false, count = 0;

async function post(path, body) {
  try {
    const answer = await fetch(path, { method: "POST", body: JSON.stringify(body) });
    return answer.ok ? { done: await answer.json() } : { why: await answer.text() };
  } catch {
    return { why: "The bench does not answer. What you entered stays on this page." };
  }
}

// Boxes that are only asked for if another says so.
const ASKED = {
  "cylinders.angle": ["cylinders.layout", (layout) => layout !== "even"],
  "inlet.set_band.from": ["inlet.two_bands", Boolean], "inlet.set_band.to": ["inlet.two_bands", Boolean],
  "exhaust.set_band.from": ["exhaust.two_bands", Boolean], "exhaust.set_band.to": ["exhaust.two_bands", Boolean],
};

function box(entry, key, value, unit, inRow = false) {
  const id = key, about = [];
  let input;
  if (entry.kind === "choice") {
    input = el("select", {}, ...entry.choices.map(([v, words]) => el("option", { value: v }, words)));
    input.value = value ?? entry.choices[0][0];
  } else {
    input = el("input", { autocomplete: "off", ...(entry.kind === "text" ? { maxlength: 300 } : { inputmode: entry.kind === "list" ? "text" : "decimal", spellcheck: "false" }) });
    input.value = value ?? "";
  }
  input.id = input.name = id;
  const needed = entry.needed && !inRow && entry.kind !== "choice";
  if (needed) input.setAttribute("aria-required", "true");
  const parts = [input];
  if (entry.unit === "part") parts.push(el("span", { class: "unit", "data-unit-of": unit, id: `${id}-unit` }));
  else if (entry.unit && entry.unit !== "row") parts.push(el("span", { class: "unit", id: `${id}-unit` }, entry.unit));
  if (parts.length > 1) about.push(`${id}-unit`);
  if (entry.help) about.push(`${id}-help`);
  about.push(`${id}-fault`);
  input.setAttribute("aria-describedby", about.join(" "));
  const long = (entry.kind === "text" && !inRow) || (entry.kind === "list" && entry.unit === "part") || key.endsWith("two_bands") || key.endsWith("layout");
  return el("div", { class: long ? "box long" : "box", "data-box": key },
    el("label", { for: id }, entry.label, ...(needed ? [el("b", { class: "star", "aria-hidden": "true" }, " *")] : [])),
    el("span", { class: "with" }, ...parts),
    ...(entry.help ? [el("p", { class: "help", id: `${id}-help` }, entry.help)] : []),
    el("p", { class: "fault", id: `${id}-fault`, hidden: "" }));
}

const unitBox = (label, key, choices, value) => box({ label, kind: "choice", unit: "", help: "", choices }, key, value);

// A row of boxes: a table of the file of which there may be several.
function row(section, preset, number, values) {
  const start = `${section.table}.${number}.`;
  const at = (key) => values?.[start + key];
  const boxes = section.boxes.filter((b) => !preset?.without.includes(b.key));
  const inside = boxes.map((b) => box(b, start + b.key, at(b.key), section.unit_box, true));
  if (preset?.units.length > 1) {
    const after = boxes.findLastIndex((b) => b.unit === "row") + 1;
    inside.splice(after, 0, unitBox("Unit", `${start}unit`, preset.units, at("unit")));
  }
  const node = el("fieldset", { class: "one" }, el("legend", {}, preset ? preset.title : section.title), el("div", { class: "grid" }, ...inside));
  if (preset?.units.length === 1) for (const b of node.querySelectorAll(".box")) {
    const entry = boxes.find((x) => start + x.key === b.dataset.box);
    if (entry?.unit === "row") b.querySelector(".with").append(el("span", { class: "unit" }, preset.units[0][1]));
  }
  node.fixed = {};
  if (preset) node.fixed[start + section.rows.about] = preset.value;
  if (preset?.units.length === 1) node.fixed[`${start}unit`] = preset.units[0][0];
  return node;
}

function rows(section) {
  const { about, presets } = section.rows, table = `${section.table}.`;
  const numbers = [...new Set(Object.keys(page.boxes).filter((k) => k.startsWith(table)).map((k) => Number(k.slice(table.length).split(".")[0])))].sort((a, b) => a - b);
  let next = Math.max(-1, ...numbers) + 1;
  const adder = (words, make, before) => {
    const button = el("button", { type: "button", class: "add" }, words);
    button.addEventListener("click", () => {
      const node = make(next++);
      button.before(node);
      changed();
      node.querySelector("input, select").focus();
    });
    return button;
  };
  if (!about) {
    const there = (numbers.length ? numbers : [next++]).map((n) => row(section, null, n, page.boxes));
    return [el("div", { class: "rows" }, ...there, adder(section.table === "names" ? "another name" : `another ${section.title.toLowerCase()}`, (n) => row(section, null, n)))];
  }
  const groups = new Map();
  for (const preset of presets) {
    const mine = numbers.filter((n) => page.boxes[`${table}${n}.${about}`] === preset.value);
    const there = (mine.length ? mine : [next++]).map((n) => row(section, preset, n, page.boxes));
    if (preset.more !== "no") {
      const more = adder(`${preset.title}: one more`, (n) => row(section, preset, n));
      if (preset.more === "of_a_head") more.dataset.ofAHead = "";
      there.push(more);
    }
    groups.set(preset.group, [...(groups.get(preset.group) || []), ...there]);
  }
  return [...groups].map(([group, there]) => group
    ? el("details", {}, el("summary", {}, group, el("span", { "data-filled": "" })), el("div", { class: "rows" }, ...there))
    : el("div", { class: "rows" }, ...there));
}

function part(section) {
  const prefix = section.table ? `${section.table}.` : "";
  const inside = [];
  if (section.units.length) inside.push(unitBox("Lengths are in", section.unit_box, section.units, page.boxes[section.unit_box]));
  if (!section.rows) inside.push(...section.boxes.map((b) => box(b, prefix + b.key, page.boxes[prefix + b.key], section.unit_box)));
  const id = `part-${section.table || "engine"}`;
  const within = section.table === "shims.ranges";
  const content = [...(section.help ? [el("p", { class: "help" }, section.help)] : []), ...(inside.length ? [el("div", { class: "grid" }, ...inside)] : []), ...(section.rows ? rows(section) : [])];
  if (within) return el("div", { class: "within" }, ...content);
  return el("section", { "aria-labelledby": id }, el("h2", { id }, section.title), ...content);
}

// What stands in the boxes. A row in which only what it is about is chosen is empty.
function boxes() {
  const all = {};
  for (const input of $("parts").querySelectorAll("input, select")) {
    if (!input.closest(".one") && input.value.trim()) all[input.name] = input.value;
  }
  for (const one of $("parts").querySelectorAll(".one")) {
    const inputs = [...one.querySelectorAll("input, select")];
    if (!inputs.some((i) => i.tagName === "INPUT" && i.value.trim())) continue;
    Object.assign(all, one.fixed);
    for (const i of inputs) if (i.value.trim()) all[i.name] = i.value;
  }
  return all;
}

function dependent() {
  for (const node of document.querySelectorAll("[data-unit-of]")) node.textContent = $(node.dataset.unitOf)?.value ?? "";
  for (const [key, [other, asks]] of Object.entries(ASKED)) {
    document.querySelector(`[data-box="${key}"]`).hidden = !asks($(other).value);
  }
  // What is of one head is only asked for if there are several.
  const heads = [...document.querySelectorAll("[name^='head.'][name$='.cylinders']")].some((i) => i.value.trim());
  for (const node of document.querySelectorAll("[data-box^='limit.'][data-box$='.head']")) node.hidden = !heads && !node.querySelector("select").value;
  for (const node of document.querySelectorAll("[data-of-a-head]")) node.hidden = !heads;
  for (const node of document.querySelectorAll("[data-filled]")) {
    const ones = [...node.closest("details").querySelectorAll(".one")];
    const filled = ones.filter((one) => [...one.querySelectorAll("input")].some((i) => i.value.trim())).length;
    node.textContent = filled ? `${filled} given` : "none given";
  }
}

const name = (key) => {
  const label = document.querySelector(`label[for="${key}"]`);
  const place = $(key)?.closest("section")?.querySelector("h2")?.textContent ?? "";
  return `${place}: ${(label?.firstChild?.textContent ?? key)}`;
};

function faults(all) {
  for (const input of document.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
  for (const node of document.querySelectorAll(".box .fault")) node.hidden = true;
  let outside = "";
  for (const { key, message, missing } of all) {
    const input = $(key);
    if (!input) { outside = message; continue; }
    if (missing && !pressed && !visited.has(key)) continue;
    const node = $(`${key}-fault`);
    node.textContent = message;
    node.hidden = false;
    input.setAttribute("aria-invalid", "true");
    const closed = input.closest("details:not([open])");
    if (closed) closed.open = true;
  }
  $("message").textContent = outside;
}

function head(valves) {
  const node = $("head"), wide = 130, all = cylinders(valves);
  // Above a cylinder stands its head, where there are several.
  const above = all.some((pot) => pot.head) ? 18 : 0, high = 190 + above;
  const across = Math.min(all.length, 4), down = Math.ceil(all.length / across);
  node.setAttribute("viewBox", `0 0 ${across * wide} ${down * high}`);
  node.replaceChildren(...all.flatMap((pot, i) => {
    const x = (i % across) * wide + wide / 2, y = Math.floor(i / across) * high + 95 + above;
    const side = (which, at) => pot[which].flatMap((v, k, row) => {
      const cx = x + (k - (row.length - 1) / 2) * 40, r = row.length === 3 ? 14 : 17;
      return [svg("circle", { cx, cy: y + at, r, class: `seat ${which}` }), svg("text", { x: cx, y: y + at, class: "small" }, (v.name || which).slice(0, 5))];
    });
    return [svg("circle", { cx: x, cy: y, r: 62, class: "bore" }), ...side("exhaust", -28), ...side("inlet", 28),
      svg("text", { x, y, class: "bold" }, String(pot.number)), svg("text", { x, y: y - 78 }, "exhaust"), svg("text", { x, y: y + 78 }, "inlet"),
      ...(above ? [svg("text", { x, y: y - 97 }, pot.head)] : [])];
  }));
  const says = (which) => (all[0]?.[which] ?? []).map((v) => v.name || "one valve").join(", ");
  const lie = all.filter((pot) => pot.head).map((pot) => `; ${pot.number} on the ${pot.head}`).join("");
  node.setAttribute("aria-label", `${all.length} cylinders; each with exhaust ${says("exhaust")} and inlet ${says("inlet")}${lie}`);
  return valves.length > 0;
}

function firing(order, crank) {
  const node = $("firing"), x = (deg) => 30 + deg * 540 / 720;
  node.setAttribute("viewBox", "0 0 600 90");
  node.replaceChildren(svg("path", { d: "M30 40H570", class: "line" }), ...[0, 180, 360, 540, 720].flatMap((deg) => [svg("path", { d: `M${x(deg)} 34v12`, class: "line" }), svg("text", { x: x(deg), y: 76 }, `${deg}°`)]),
    ...order.flatMap((c) => [svg("circle", { cx: x(crank[c - 1]), cy: 40, r: 16, class: "dot" }), svg("text", { x: x(crank[c - 1]), y: 40 }, String(c))]));
  const words = order.map((c) => `${c} at ${crank[c - 1]}°`).join(", ");
  node.setAttribute("aria-label", `Two turns of the crank: ${words}`);
  $("firing-words").textContent = order.length ? `Cylinder ${words} of the crank, from the firing of cylinder 1.` : "";
  return order.length > 0;
}

function stops(all, crank) {
  $("stops").replaceChildren(...all.map(({ words, valves, crank_deg }) => {
    const picture = svg("svg", { class: "dial", role: "img" });
    dial(picture, { crank_deg }, crank);
    return el("li", {}, `${words[0].toUpperCase()}${words.slice(1)}`, picture, el("ul", {}, ...valves.map((v) => el("li", {}, v))));
  }));
  return all.length > 0;
}

const list = (id, all) => $(id).replaceChildren(...all.map((words) => el("li", {}, words)));

// Whether a drawing is there, instead of the line that says when it will be.
function drawn(id, there) {
  const node = $(id);
  node.toggleAttribute("hidden", !there);
  node.closest("section").querySelector(".none").hidden = there;
}

function show(found) {
  faults(found.faults);
  const missing = found.faults.filter((f) => f.missing && $(f.key)), wrong = found.faults.filter((f) => !f.missing);
  const ready = found.faults.length === 0;
  $("state").textContent = ready ? "Every needed box is filled in, and nothing contradicts itself." : [wrong.length && `${wrong.length} to put right`, missing.length && `${missing.length} still to fill in`].filter(Boolean).join(", ") + ":";
  $("open").replaceChildren(...[...wrong, ...missing].filter((f) => $(f.key)).map(({ key }) => {
    const button = el("button", { type: "button" }, name(key));
    button.addEventListener("click", () => $(key).focus());
    return el("li", {}, button);
  }));
  drawn("head", head(found.valves));
  drawn("firing", firing(found.firing_order, found.crank_deg));
  drawn("stops", stops(found.stops, found.crank_deg));
  $("assumed").hidden = !found.assumed_timing;
  list("missing", found.missing);
  drawn("missing", ready);
  $("missing-why").hidden = found.missing.length === 0;
  $("change").hidden = !found.change;
  if (found.change) {
    list("change-lines", found.change.why ? [found.change.why] : found.change.lines);
    list("change-verdicts", found.change.why ? [] : found.change.verdicts.length ? found.change.verdicts : ["No verdict changes."]);
  }
  document.body.dataset.ready = "yes";
  document.body.dataset.checked = String(++count);
}

let due = 0, asked = 0;
async function check() {
  const mine = ++asked;
  const { done, why } = await post("/engine/check", { of, boxes: boxes() });
  if (mine !== asked) return; // the boxes say something else by now
  if (why) $("message").textContent = why; else show(done);
}

function changed() {
  dependent();
  sessionStorage.setItem(DRAFT, JSON.stringify(boxes()));
  clearTimeout(due);
  due = setTimeout(check, 350);
}

// As it was entered, in the order of the manual, a box to tick before each line.
function paper() {
  const value = (input) => input.tagName === "SELECT" ? input.selectedOptions[0].textContent : input.value.trim();
  const lines = (node) => [...node.querySelectorAll(".box:not([hidden])")].flatMap((b) => {
    const input = b.querySelector("input, select");
    if (!value(input)) return [];
    const unit = b.querySelector(".unit")?.textContent ?? "";
    return [el("li", {}, `${b.querySelector("label").firstChild.textContent}: ${value(input)} ${unit}`)];
  });
  const filled = (one) => [...one.querySelectorAll("input")].some((i) => i.value.trim());
  const parts = [...$("parts").querySelectorAll("section")].flatMap((section) => {
    const ones = [...section.querySelectorAll(".one")].filter(filled);
    const plain = [...section.querySelectorAll(".grid")].filter((g) => !g.closest(".one")).flatMap(lines);
    const all = [...plain, ...ones.map((one) => el("li", {}, `${one.querySelector("legend").textContent}: ${lines(one).map((l) => l.textContent.trim()).join("; ")}`))];
    return all.length ? [el("h2", {}, section.querySelector("h2").textContent), el("ul", {}, ...all)] : [];
  });
  const given = $("firing-words").textContent;
  $("paper").replaceChildren(el("h1", {}, $("name").value || "Engine"), el("p", {}, page.check), ...parts, el("p", {}, given));
}

$("form").addEventListener("input", changed);
$("form").addEventListener("change", changed);
$("form").addEventListener("focusout", (event) => { if (event.target.name) { visited.add(event.target.name); changed(); } });
$("print").addEventListener("click", () => { paper(); print(); });
addEventListener("beforeprint", paper);
$("form").addEventListener("submit", async (event) => {
  event.preventDefault();
  pressed = true;
  await check();
  const first = document.querySelector("[aria-invalid]");
  if (first) { $("message").textContent = "Not kept: see the boxes that are marked."; first.focus(); return; }
  $("save").disabled = true;
  const { done, why } = await post("/engine/save", { of, boxes: boxes() });
  $("save").disabled = false;
  if (why) { $("message").textContent = `Not kept: ${why}`; scrollTo(0, 0); return; }
  sessionStorage.removeItem(DRAFT);
  location.assign(of === "job" ? "/plan" : `/jobs?engine=${done.key}`);
});

async function load() {
  const { done, why } = await post("/engine/open", { of });
  if (why) { $("message").textContent = why; return; }
  page = done;
  const draft = sessionStorage.getItem(DRAFT);
  if (draft) page.boxes = JSON.parse(draft);
  $("title").textContent = page.title;
  const link = (href, words) => el("a", { href }, words);
  $("pages").replaceChildren(...(of === "job" ? [link("/", "Board"), link("/plan", "Sheet and plan")] : [link("/jobs", "Jobs")]));
  if (of === "job") $("save").textContent = "change it in this job";
  const parts = [];
  for (const section of page.sections) {
    const node = part(section);
    if (node.className === "within") parts.at(-1).append(node); else parts.push(node);
  }
  $("parts").replaceChildren(...parts);
  dependent();
  check();
}
load();
