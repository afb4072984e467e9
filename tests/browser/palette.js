// A screenshot (PNG, base64) as a PNG of ten colours, which is a fifth of its size: the commonest ones,
// and of the rest those that would be missed most.
const [shot, done] = arguments;
(async () => {
  const bytes = Uint8Array.from(atob(shot), (c) => c.charCodeAt(0));
  const image = await createImageBitmap(new Blob([bytes], { type: "image/png" }));
  const { width, height } = image;
  const context = new OffscreenCanvas(width, height).getContext("2d");
  context.drawImage(image, 0, 0);
  const pixels = new Uint32Array(context.getImageData(0, 0, width, height).data.buffer);
  const counts = new Map();
  for (const pixel of pixels) counts.set(pixel, (counts.get(pixel) ?? 0) + 1);
  const parts = (p) => [p & 255, (p >> 8) & 255, (p >> 16) & 255];
  const far = (a, b) => parts(a).reduce((sum, v, i) => sum + (v - parts(b)[i]) ** 2, 0);
  const colours = [...counts].sort((a, b) => b[1] - a[1]).slice(0, 600);
  const palette = [colours[0][0]];
  const away = new Map(colours.map(([p]) => [p, Infinity]));
  while (palette.length < 10) {
    const last = palette.at(-1);
    let best = null, most = 0;
    for (const [pixel, count] of colours) {
      const d = Math.min(away.get(pixel), far(pixel, last));
      away.set(pixel, d);
      if (d * Math.sqrt(count) > most) [best, most] = [pixel, d * Math.sqrt(count)];
    }
    if (best === null) break;
    palette.push(best);
  }
  const nearest = new Map();
  const index = (pixel) => {
    if (!nearest.has(pixel)) nearest.set(pixel, palette.reduce((best, p, i) => (far(p, pixel) < far(palette[best], pixel) ? i : best), 0));
    return nearest.get(pixel);
  };
  const row = 1 + Math.ceil(width / 2), rows = new Uint8Array(row * height);
  for (let i = 0; i < pixels.length; i += 1) {
    const x = i % width, at = row * Math.floor(i / width) + 1 + (x >> 1);
    rows[at] |= index(pixels[i]) << (x % 2 ? 0 : 4);
  }
  const packed = new Response(new Blob([rows]).stream().pipeThrough(new CompressionStream("deflate")));
  const table = Uint32Array.from({ length: 256 }, (_, n) => {
    let c = n;
    for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    return c;
  });
  const chunk = (type, data) => {
    const whole = new Uint8Array(12 + data.length), view = new DataView(whole.buffer);
    view.setUint32(0, data.length);
    whole.set([...type].map((c) => c.charCodeAt(0)), 4);
    whole.set(data, 8);
    let crc = 0xffffffff;
    for (const byte of whole.subarray(4, 8 + data.length)) crc = table[(crc ^ byte) & 255] ^ (crc >>> 8);
    view.setUint32(8 + data.length, (crc ^ 0xffffffff) >>> 0);
    return whole;
  };
  const header = new Uint8Array(13), view = new DataView(header.buffer);
  view.setUint32(0, width);
  view.setUint32(4, height);
  header.set([4, 3], 8);
  const png = [
    Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10), chunk("IHDR", header), chunk("PLTE", Uint8Array.from(palette.flatMap(parts))),
    chunk("IDAT", new Uint8Array(await packed.arrayBuffer())), chunk("IEND", new Uint8Array()),
  ];
  const all = new Uint8Array(await new Blob(png).arrayBuffer());
  let text = "";
  for (const byte of all) text += String.fromCharCode(byte);
  done(btoa(text));
})();
