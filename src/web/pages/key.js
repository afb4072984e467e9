// The key of this device. The cookie goes to every port of this host; the key stays with the pages of this
// one. Whatever a page asks for carries it: as a header, and in the address of a stream, which has none. What
// a page sends is JSON unless it says otherwise: the bench takes nothing that a form could send.
{
  const key = () => localStorage.getItem("key") ?? "";
  const keyed = (address) => { const url = new URL(address, location.href); url.searchParams.set("key", key()); return url.href; };
  const ask = window.fetch;
  window.fetch = (address, options = {}) => ask(address, { ...options, headers: { ...(options.method === "POST" && { "Content-Type": "application/json" }), ...options.headers, "X-Benchcall-Key": key() } });
  window.EventSource = class extends EventSource { constructor(address) { super(keyed(address)); } };
  window.WebSocket = class extends WebSocket { constructor(address) { super(keyed(address)); } };
  // A bench that was opened by its icon ends when no page is in use.
  setInterval(() => { if (!document.hidden) window.fetch("/devices").catch(() => {}); }, 60_000);
  // A ticket is used by now; without it the page can be loaded again and kept as a bookmark.
  const clean = new URL(location.href);
  if (clean.searchParams.has("ticket")) {
    clean.searchParams.delete("ticket");
    history.replaceState(history.state, "", clean);
  }
}
