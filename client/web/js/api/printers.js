// Requests for printers: test page, readings, and stored printers.

import { ask, askAll, patch, post } from "./service.js";

/** Address of the test page of a sheet format. */
export const testPage = (format) => `/v1/test-page.pdf?${new URLSearchParams({ format, language: document.documentElement.lang })}`;
/** What readings mean; nothing is stored. */
export const readings = (reading, signal) => post("/v1/readings", reading, { signal });
/** The person's printers and those of their classes. @returns {Promise<Array<object>>} */
export const printers = async () => (await askAll("/v1/printers")).items;
export const makePrinter = (body, key) => post("/v1/printers", body, { key });
export const changePrinter = (id, changes) => patch(`/v1/printers/${id}`, changes);
export const deletePrinter = (id) => ask(`/v1/printers/${id}`, { method: "DELETE" });
