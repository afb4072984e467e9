// The bar above the report: prints it, and saves what it is made of.
const said = document.getElementById("saved");
document.getElementById("print").addEventListener("click", () => print());

// A file that is asked for by its address alone would come without the key of this device.
async function save(name) {
  const answer = await fetch(`/${name}`).catch(() => null);
  if (!answer?.ok) { said.textContent = answer ? await answer.text() : "Not saved: the bench does not answer."; return; }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name;
  link.click();
  URL.revokeObjectURL(link.href);
  said.textContent = `Saved: ${name}`;
}
for (const button of document.querySelectorAll("[data-save]")) button.addEventListener("click", () => save(button.dataset.save));
