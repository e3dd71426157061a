// Ids of pictures on this device; no other device sees them.

/** An id that no other picture on this device has. */
export function freshId() {
  return `${Date.now().toString(36)}-${Math.random().toString(36).slice(2)}`;
}
