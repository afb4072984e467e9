// Goes to this page again, with a ticket that is drawn with the key of this device.
const answer = await fetch("/ticket", { method: "POST" });
if (answer.ok) {
  const address = new URL(location.href);
  address.searchParams.set("ticket", (await answer.json()).ticket);
  location.replace(address);
} else if (answer.status === 401) location.replace("/pair");
else document.querySelector("h1").textContent = await answer.text();
