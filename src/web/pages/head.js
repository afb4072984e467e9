// Shapes of the verdicts, the head from above, and the crank. Drawn with elements, never with text
// that is taken for markup.
const SVG = "http://www.w3.org/2000/svg";

export function el(name, attributes = {}, ...inside) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...inside);
  return node;
}

export function svg(name, attributes = {}, ...inside) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...inside);
  return node;
}

// One shape a verdict, told apart without colour; 40 by 40.
const SHAPES = {
  in_band: [["circle", { cx: 20, cy: 20, r: 16, class: "full" }], ["path", { d: "M11 20l6 7 12-14", class: "tick" }]],
  tight: [["path", { d: "M2 8l15 12L2 32zM38 8L23 20l15 12z", class: "full" }]],
  loose: [["path", { d: "M15 8L1 20l14 12zM25 8l14 12-14 12z", class: "full" }]],
  on_the_limit: [["circle", { cx: 20, cy: 20, r: 16 }], ["path", { d: "M20 4a16 16 0 0 1 0 32z", class: "full" }]],
  no_gap: [["rect", { x: 3, y: 13, width: 34, height: 14, class: "full" }]],
  open: [["path", { d: "M8 34V8h10M8 20h26m-8-8 8 8-8 8" }]],
  contradictory: [["path", { d: "M6 6l28 28M34 6L6 34", "stroke-width": 7 }]],
  refitted: [["path", { d: "M34 20a14 14 0 1 1-5-11M30 2v9h-9" }]],
  unmeasured: [["circle", { cx: 20, cy: 20, r: 15, "stroke-dasharray": "5 6" }]],
};

export function shape(verdict) {
  const parts = (SHAPES[verdict] || SHAPES.unmeasured).map(([name, at]) => svg(name, at));
  return svg("svg", { viewBox: "0 0 40 40", class: "shape", "aria-hidden": "true" }, ...parts);
}

// The shape of a question, as beside the state.
function question() {
  return svg("svg", { viewBox: "0 0 40 40", class: "mark", "aria-hidden": "true" },
    svg("path", { d: "M20 2 38 36H2zM18 13h4v12h-4zm0 15h4v4h-4z" }));
}

// The cylinders as they lie, those of a head beside each other: number, name of the head (none if there is
// one), valves of both sides.
export function cylinders(valves) {
  const pots = new Map(), heads = new Set(valves.map((v) => v.head || ""));
  for (const { cylinder, head = "" } of valves) {
    if (!pots.has(cylinder)) pots.set(cylinder, { number: cylinder, head, exhaust: [], inlet: [] });
  }
  for (const valve of valves) pots.get(valve.cylinder)[valve.side].push(valve);
  return [...heads].flatMap((head) => [...pots.values()].filter((pot) => pot.head === head));
}

export function head(board) {
  const pots = cylinders(board.valves);
  const columns = pots.reduce((sum, { exhaust, inlet }) => sum + Math.max(exhaust.length, inlet.length), 0);
  return pots.map((pot) => {
    const row = (side) => el("div", { class: "side" }, ...pot[side].map(cell));
    // The sides are named once, so that a cell has room for what was measured.
    const title = el("h2", {}, el("span", {}, "↑ exhaust"),
      el("span", {}, el("span", { class: "long" }, "cylinder "), String(pot.number)), el("span", {}, "inlet ↓"));
    const name = pot.head ? [el("p", { class: "of-head" }, pot.head)] : [];
    return el("div", { class: columns > MANY ? "pot many" : "pot" }, ...name, row("exhaust"), title, row("inlet"));
  });
}

// So many valves beside each other have room for little but their figures.
const MANY = 9;

// An interval may stand in two lines, parted before its dash; so may a bound, behind its sign.
const pieces = (value) => value.split(/(?=–)|(?<=[≥<])/);
// The digits that differ from valve to valve are large; the nought before the point, and the dash, are small.
const MINOR = 0.35;
const parts = (piece) => piece.match(/^(–)?(0\.)?(.*)$/).slice(1).filter(Boolean);
const isMinor = (part) => part === "0." || part === "–";
// How wide a line of a figure is at most in the usual fonts, in its own size.
const width = (line) => parts(line).reduce((sum, part) => sum + [...part].reduce((wide, c) =>
  wide + (/\d/.test(c) ? 0.59 : c === "." ? 0.32 : c === "–" ? 0.5 : 0.84), 0) * (isMinor(part) ? MINOR : 1), 0);

function figures(value, what = []) {
  const lines = pieces(value);
  const node = el("p", { class: what.length ? "figure of-shim" : "figure" }, ...what, ...lines.flatMap((line) => [
    el("span", {}, ...parts(line).map((part) => (isMinor(part) ? el("small", {}, part) : part))), el("wbr")]));
  node.style.setProperty("--c", Math.max(...lines.map(width), 1.6).toFixed(2));
  return node;
}

// What must be known of a reading beside its verdict.
const MARKS = { near: "near: again", single: "one blade" };

function cell(valve) {
  // A question about a valve is not yet a reading of it.
  const [mark, flag] = valve.asked ? ["asked", "ASKED"] : valve.open ? ["open", "OPEN"] : valve.next ? ["next", "NEXT"] : ["", ""];
  const node = el("div", { class: `valve ${valve.verdict}` });
  if (mark) node.dataset[mark] = "";
  const name = el("p", { class: "name" }, el("span", { class: "out" }, `${valve.side} `), valve.name || valve.side);
  const flags = el("p", { class: "flag" }, ...(valve.asked ? [question(), flag] : [flag || MARKS[valve.mark] || ""]));
  // A shim must not look like a clearance.
  const figure = valve.value || !valve.shim ? figures(valve.value) : figures(valve.shim, [el("small", {}, "shim"), " "]);
  node.append(el("div", { class: "cell" }, shape(valve.verdict), el("div", { class: "names" }, name, flags),
    el("p", { class: "word" }, valve.words.replace("contradictory", "contra\u00addictory")), figure));
  return node;
}

// The crank seen from its end, turning clockwise: 0 is where cylinder 1 stands at the top.
export function dial(node, next, crank) {
  node.replaceChildren();
  node.setAttribute("viewBox", "-14 -2 248 224"); // with room for the numbers beside the ring
  if (!next || next.crank_deg === null) return;
  const at = (deg, r) => {
    const a = (deg - 90) * Math.PI / 180;
    return [110 + r * Math.cos(a), 110 + r * Math.sin(a)];
  };
  const line = (deg, from, to, kind) => {
    const [x1, y1] = at(deg, from), [x2, y2] = at(deg, to);
    return svg("line", { x1, y1, x2, y2, class: kind });
  };
  node.append(svg("circle", { cx: 110, cy: 110, r: 74, class: "ring" }));
  const marks = new Map();
  crank.forEach((deg, i) => {
    const one = deg % 360;
    marks.set(one, [...(marks.get(one) || []), i + 1]);
  });
  for (const [deg, numbers] of marks) {
    const [x, y] = at(deg, 98);
    node.append(line(deg, 66, 84, "mark"), svg("text", { x, y }, numbers.join("·")));
  }
  const deg = next.crank_deg % 360;
  const [x, y] = at(deg, 62), [lx, ly] = at(deg - 9, 42), [rx, ry] = at(deg + 9, 42);
  node.append(line(deg, 0, 48, "hand"), svg("path", { d: `M${x} ${y}L${lx} ${ly}L${rx} ${ry}z`, class: "tip" }));
  node.setAttribute("aria-label", `Crank ${deg} degrees past the top mark of cylinder 1`);
}
