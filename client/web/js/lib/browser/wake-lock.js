// Keeps the screen on while somebody works from it (W3C Screen Wake Lock). A browser takes the
// lock away when the page is hidden, so it is asked for again on return; where the lock is
// missing or refused, the screen behaves as everywhere.

/** @returns {function()} lets the screen go dark again */
export function keepAwake() {
  let lock = null;
  let asking = false;
  let over = false;

  async function ask() {
    if (over || asking || document.visibilityState !== "visible" || (lock && !lock.released)) return;
    asking = true;
    try {
      const given = await navigator.wakeLock?.request("screen");
      if (over) given?.release();
      else lock = given ?? null;
    } catch {
      // A low battery or a frame without leave: nothing that a person could change here.
    }
    asking = false;
  }

  document.addEventListener("visibilitychange", ask);
  ask();
  return () => {
    over = true;
    document.removeEventListener("visibilitychange", ask);
    lock?.release().catch(() => {});
  };
}
