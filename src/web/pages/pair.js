// Pairs this device with the code of the bench; paired devices can send others away.
const $ = (id) => document.getElementById(id);
const post = (path, body) => fetch(path, { method: "POST", body: JSON.stringify(body) });

async function pair() {
  const answer = await post("/pair", { code: $("code").value, name: $("name").value });
  if (answer.ok) {
    localStorage.setItem("key", (await answer.json()).key);
    location.replace("/");
  } else $("answer").textContent = await answer.text();
}

async function list() {
  const answer = await fetch("/devices");
  if (!answer.ok) return;
  const devices = await answer.json();
  $("list").hidden = devices.length === 0;
  $("devices").replaceChildren(...devices.map((device) => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.textContent = "Send away";
    button.addEventListener("click", async () => { await post("/devices/remove", { id: device.id }); list(); });
    item.append(`${device.name}${device.me ? " (this one)" : ""} `, button);
    return item;
  }));
}

$("show").addEventListener("click", () => post("/devices/code", {}));
$("form").addEventListener("submit", (event) => { event.preventDefault(); pair(); });
// The picture at the bench leads here with the code behind a #, which no server ever sees.
async function scanned() {
  const code = location.hash.slice(1);
  if (!/^(\d{8}|\d{32})$/.test(code)) return;
  history.replaceState(null, "", "/pair");
  // Opened once more by a browser that is in already: no code is spent on it.
  if ((await fetch("/devices")).ok) { location.replace("/"); return; }
  $("code").value = code;
  pair();
}
addEventListener("hashchange", scanned);
scanned();
list();
