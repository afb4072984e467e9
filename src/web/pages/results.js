// What the readings come to: asked for again whenever it may have changed.
import { el } from "./head.js";

const $ = (id) => document.getElementById(id);

export const list = (id, all) => $(id).replaceChildren(...all.map((words) => el("li", {}, words)));

// Calls `show` with the results, now and after every change at the bench.
export function results(show) {
  let last = "";
  const ask = async () => {
    try {
      const answer = await fetch("/results.json");
      const text = await answer.text();
      if (!answer.ok) throw new Error(text);
      if (text === last) return;
      last = text;
      const found = JSON.parse(text);
      $("engine").textContent = found.engine;
      show(found);
      document.body.dataset.ready = "yes";
    } catch (error) {
      $("message").textContent = `What stands here may be old: ${error instanceof TypeError ? "the bench does not answer" : error.message}.`;
    }
  };
  const live = new EventSource("/live");
  live.onmessage = (event) => { if (JSON.parse(event.data).board) ask(); };
  addEventListener("focus", ask);
  ask();
  return ask;
}
