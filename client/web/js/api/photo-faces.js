// Where the faces of the current photo are, asked once for each photo, so that the default frame is
// the service's. They stay on this device as long as the photo is chosen.

import * as api from "./service.js";
import { specOf } from "../state/state.js";

/**
 * Ask for the faces of each photo that is chosen, and note them in the state.
 * @param {{state, update, subscribe}} store
 */
export function askForFaces(store) {
  let asked = "";

  async function look() {
    const { photo, faces } = store.state;
    const id = photo?.referenceId;
    if (!id || faces?.of === id || asked === id) return;
    asked = id;
    const plan = await api.plan(id, specOf(store.state)).catch(() => null);
    if (asked === id) asked = "";
    // Without an answer the frame is at the centre until the paper changes, or the next visit.
    if (plan && store.state.photo?.referenceId === id) store.update({ faces: { of: id, found: plan.framing.faces } });
  }

  store.subscribe((state, before) => {
    if (state.photo?.referenceId !== before.photo?.referenceId || state.paper !== before.paper) look();
  });
  look();
}
