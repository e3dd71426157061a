// Decodes and reduces a photo in a worker: browsers decode in the background by themselves, but
// reduce in the calling thread, which froze the page for a fifth of a second.

self.addEventListener("message", async ({ data: { file, widthPx } }) => {
  try {
    const bitmap = await createImageBitmap(file, { resizeWidth: widthPx, resizeQuality: "medium" });
    self.postMessage({ bitmap }, [bitmap]);
  } catch {
    self.postMessage({ bitmap: null });
  }
});
