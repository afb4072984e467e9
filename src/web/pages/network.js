// Opens the bench for phones and tablets on the local network, shows how one joins, and shuts it.
import { el, svg } from "./head.js";

const $ = (id) => document.getElementById(id);
let drawn = "";

async function post(ask) {
  try {
    const answer = await fetch("/network", { method: "POST", body: JSON.stringify(ask) });
    return answer.ok ? { done: await answer.json() } : { why: await answer.text() };
  } catch {
    return { why: "The bench does not answer." };
  }
}

// Black on white in every scheme, with the quiet edge that scanners need.
function picture(rows) {
  const wide = rows.length + 8;
  const dark = rows.flatMap((row, y) => [...row].flatMap((c, x) => (c === "1" ? [`M${x + 4} ${y + 4}h1v1h-1z`] : [])));
  $("picture").setAttribute("viewBox", `0 0 ${wide} ${wide}`);
  $("picture").replaceChildren(svg("rect", { width: wide, height: wide, fill: "#fff" }), svg("path", { d: dark.join(""), fill: "#000", "shape-rendering": "crispEdges" }));
}

async function act(ask) {
  const { done, why } = await post(ask);
  if (why) $("message").textContent = why; else { $("message").textContent = ""; show(done); }
  return !why;
}

function device([id, name]) {
  const button = el("button", { type: "button", "aria-label": `send away: ${name}` }, "send away");
  button.addEventListener("click", () => act({ send_away: id }));
  return el("li", {}, `${name} `, button);
}

function show(now) {
  const fresh = JSON.stringify(now);
  if (fresh === drawn) return;
  drawn = fresh;
  $("state").textContent = now.open ? `open: ${now.microphone ? "the device that joins hears and speaks" : "devices that you let in show the bench"}` : "shut: this machine alone shows the bench";
  $("shut-part").hidden = now.open;
  $("open-part").hidden = !now.open;
  $("sound-how").hidden = !now.microphone;
  $("trust").hidden = now.words === "";
  $("url").textContent = now.url;
  $("code").textContent = now.code.replace(/(....)(?=.)/, "$1 ");
  $("how").href = `${now.url}certificate`;
  $("words").textContent = now.words;
  if (now.open) picture(now.picture);
  $("own-there").hidden = !now.own;
  $("until").textContent = now.until || "None yet: it is made when you first let a device join.";
  $("ends").textContent = now.ends;
  $("ends").hidden = now.ends === "";
  $("none").hidden = now.devices.length > 0;
  $("devices").replaceChildren(...now.devices.map(device));
  document.body.dataset.ready = "yes";
}

$("open").addEventListener("click", async () => {
  const microphone = document.querySelector("[name=sound]:checked").value === "device";
  $("open").disabled = true;
  await act({ open: { microphone } });
  $("open").disabled = false;
});
$("shut").addEventListener("click", () => act("shut"));
$("own").addEventListener("submit", async (event) => {
  event.preventDefault();
  const [chain, key] = await Promise.all(["chain", "key"].map((id) => $(id).files[0].text()));
  if (await act({ certificate: { chain, key } })) $("message").textContent = "Kept. It is shown from the next time that a device may join.";
});
$("forget").addEventListener("click", async () => {
  if (await act("forget_certificate")) $("message").textContent = "Your certificate was removed. The network is shut: let a device join to open it again.";
});
$("renew").addEventListener("click", async () => {
  if (await act("renew_certificate")) $("message").textContent = "The old one is gone, and a new one is made when you next let a device join. The network is shut.";
});

// A code is used up by the device that joins: the next one is shown.
async function look() {
  if (!document.hidden) {
    const { done, why } = await post("now");
    if (why) $("message").textContent = why; else show(done);
  }
  setTimeout(look, 1500);
}
look();
