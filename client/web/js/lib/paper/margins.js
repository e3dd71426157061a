// Unprintable margins of printers, in mm.

/** The edges of a sheet, as the API names them. */
export const EDGES = ["top", "right", "bottom", "left"];
/** The API's limit. */
export const MOST_MARGIN_MM = 60;
/** Presets (common practice): most inkjet printers need `tight`, nearly every printer manages `safe`. */
export const MARGINS = {
  tight: { top: 5, right: 5, bottom: 5, left: 5 },
  safe: { top: 10, right: 10, bottom: 18, left: 10 },
};
