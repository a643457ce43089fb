// Answers for the day's page without a network: the page as it was last seen, and
// the files that it asks for. sheets, above, is where this build's files lie.
const shelf = "day " + sheets;
const files = ["bookend.css", "day.js", "posts.svg", "bookend-sans-400.woff2", "bookend-sans-600.woff2", "bookend-serif-600.woff2"].map((f) => sheets + f);

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(shelf).then((c) => c.addAll(files)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const key of await caches.keys()) if (key !== shelf && key.startsWith("day ")) await caches.delete(key);
    await self.clients.claim();
    // The page that installed this came before it: it is fetched once more to be kept.
    const c = await caches.open(shelf);
    for (const client of await self.clients.matchAll()) await fetch(client.url).then((a) => a.ok && c.put(new URL(client.url).pathname, a)).catch(() => {});
  })());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith(sheets)) {
    event.respondWith(caches.match(url.pathname).then((kept) => kept ?? fetch(event.request)));
    return;
  }
  if (!url.pathname.endsWith("/day")) return;
  event.respondWith((async () => {
    const c = await caches.open(shelf);
    try {
      const answer = await fetch(event.request, { signal: AbortSignal.timeout(4000) });
      if (answer.ok) await c.put(url.pathname, answer.clone());
      return answer;
    } catch {
      return (await c.match(url.pathname)) ?? new Response("The day's page was never opened with the network on this device.", { status: 503, headers: { "Content-Type": "text/plain; charset=utf-8" } });
    }
  })());
});
