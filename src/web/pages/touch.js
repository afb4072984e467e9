// The board by hand: buttons, and a pad on which a reading is typed while a compressor runs.
import { el } from "./head.js";

const $ = (id) => document.getElementById(id);

// Sends what a hand did; gives what came of it, or why nothing did.
export async function send(what) {
  try {
    const answer = await fetch("/touch", { method: "POST", body: JSON.stringify(what) });
    return answer.ok ? { done: await answer.json() } : { why: await answer.text() };
  } catch {
    return { why: "Not stored: the bench does not answer." };
  }
}

export function touch(buttons, said) {
  for (const button of buttons.querySelectorAll("[data-press]")) {
    button.addEventListener("click", async () => {
      said.textContent = "";
      const { done, why } = await send({ press: button.dataset.press });
      // What nobody waited for is said; the rest stands on the board.
      said.textContent = why || (done.outcome === "ignored" ? `Nothing done: ${done.why}.` : "");
    });
  }
}

function choices(node, name, all) {
  node.replaceChildren(...all.map(({ value, words, checked }) => {
    const input = el("input", { type: "radio", name, value });
    input.checked = Boolean(checked);
    return el("label", {}, input, words);
  }));
}

const chosen = (name) => $("pad").querySelector(`[name=${name}]:checked`)?.value;

// `board` gives the board as it is now.
export function pad(board) {
  const says = () => {
    const words = (name) => $("pad").querySelector(`[name=${name}]:checked`)?.parentElement.textContent;
    const [goes, stops] = [words("goes"), words("stops")];
    const parts = [chosen("place"), goes && `${goes} goes`, stops && `${stops} does not`].filter(Boolean);
    $("pad-says").textContent = parts.join(", ");
  };
  $("pad-open").addEventListener("click", () => {
    const { valves, blades, unit } = board();
    const due = valves.find((v) => v.open) || valves.find((v) => v.next);
    choices($("pad-valves"), "place", valves.map((v) => ({ value: v.place, words: v.place, checked: v === due })));
    const sizes = () => blades.map((b) => ({ value: b.nm, words: b.words }));
    choices($("pad-goes"), "goes", sizes());
    choices($("pad-stops"), "stops", sizes());
    $("pad-title").textContent = `Type a reading, in ${unit}`;
    says();
    $("pad").showModal();
  });
  $("pad").addEventListener("change", says);
  $("pad-store").addEventListener("click", async () => {
    const size = (name) => (chosen(name) ? Number(chosen(name)) : null);
    const place = chosen("place");
    if (!place) { $("pad-says").textContent = "Choose a valve."; return; }
    $("pad-store").disabled = true;
    const { done, why } = await send({ blades: { place, goes_nm: size("goes"), stops_nm: size("stops") } });
    $("pad-store").disabled = false;
    // A question stands on the board, and is answered there.
    if (!why && ["stored", "asked"].includes(done.outcome)) { $("pad").close(); return; }
    $("pad-says").textContent = why || `Not stored: ${done.spoken || done.why}.`;
  });
}
