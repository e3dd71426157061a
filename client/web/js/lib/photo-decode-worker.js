// Decodes and reduces a photo away from the page's thread: browsers decode in the background
// by themselves, but reduce where they were asked, which froze the page for a fifth of a second.

self.addEventListener("message", async ({ data: { file, widthPx } }) => {
  try {
    const bitmap = await createImageBitmap(file, { resizeWidth: widthPx, resizeQuality: "medium" });
    self.postMessage({ bitmap }, [bitmap]);
  } catch {
    self.postMessage({ bitmap: null });
  }
});
