// The bar above the report: prints it, and saves what it is made of.
const said = document.getElementById("saved");
document.getElementById("print").addEventListener("click", () => print());

// The same page beside an earlier job of this engine, if there is one.
const BESIDE = "/beside/";
const beside = location.pathname.includes(BESIDE) ? location.pathname.slice(location.pathname.indexOf(BESIDE)) : "";
const before = document.getElementById("before");
fetch("/earlier.json").then((answer) => answer.ok ? answer.json() : []).then((jobs) => {
  const day = (ms) => new Date(ms).toLocaleDateString([], { dateStyle: "medium" });
  for (const { name, begun_ms } of jobs) before.append(new Option(`${name} (${day(begun_ms)})`, name));
  before.value = decodeURIComponent(beside.slice(BESIDE.length));
  document.getElementById("before-part").hidden = jobs.length === 0;
}, () => {});
before.addEventListener("change", () => location.assign(before.value ? `/report${BESIDE}${encodeURIComponent(before.value)}` : "/report"));

// A file that is asked for by its address alone would come without the key of this device.
async function save(name) {
  said.textContent = `Saving ${name}`;
  const answer = await fetch(`/${name}${name === "report.json" ? beside : ""}`).catch(() => null);
  if (!answer?.ok) { said.textContent = answer ? await answer.text() : "Not saved: the bench does not answer."; return; }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name;
  link.click();
  URL.revokeObjectURL(link.href);
  const lost = name.includes("sounds") ? await fetch("/report-lost-sounds.json").then((a) => a.json(), () => []) : [];
  said.textContent = `Saved: ${name}${lost.length > 0 ? `, without ${lost.join("; ")}` : ""}`;
}
for (const button of document.querySelectorAll("[data-save]")) button.addEventListener("click", () => save(button.dataset.save));
