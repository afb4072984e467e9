// What the inspection found, and how far the job is.
import { el } from "./head.js";
import { list, results } from "./results.js";

const $ = (id) => document.getElementById(id);
const STATES = { done: "✓ done", begun: "▸ begun", to_do: "○ to do" };
const SIGNS = { good: "✓", worn: "~", out_of_limit: "!", doubtful: "?", no_limit: "–" };

function stage({ name, state, cautions }) {
  const shown = state === "begun" ? cautions : [];
  return el("li", {}, el("span", { class: "state" }, STATES[state]), ` ${name}`, ...shown.map((c) => el("p", { class: "caution" }, c)));
}

function finding({ place, verdict, words, reason, source }) {
  return el("li", {}, el("span", { class: `verdict ${verdict}` }, `${SIGNS[verdict]} ${words}`), ` ${place || "engine"}: ${reason}${source ? ` (${source})` : ""}`);
}

results(({ findings, progress }) => {
  $("stages").replaceChildren(...progress.stages.map(stage));
  $("unmeasured").textContent = progress.unmeasured.length > 0 ? `To measure: ${progress.unmeasured.join(", ")}.` : "Every valve is measured.";
  list("open", progress.open.map((t) => [t.kind, t.valve, t.text].filter(Boolean).join(" ")));
  list("looked", progress.looked_at.length + progress.notes.length > 0 ? progress.looked_at : ["Nothing yet."]);
  list("notes", progress.notes);
  $("findings").replaceChildren(...findings.map(finding));
  $("none").hidden = findings.length > 0;
  $("none").textContent = "No inspection readings yet. Call them: “stem two exhaust left, five four six five”.";
});
