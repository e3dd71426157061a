// Makes a pack with types that were generated from the OpenAPI document: make_pack.js URL KEY PHOTO OUT.
// It is compiled strictly first, so that a call, a field or a code that the document does not
// have is an error before anything is sent. It prints what it met on its way, as JSON.

import { readFile, writeFile } from "node:fs/promises";

import createClient from "openapi-fetch";

import type { components, paths } from "./schema.js";

type Spec = components["schemas"]["Spec"];
type Problem = components["schemas"]["Problem"];

const [url, key, photo, out] = process.argv.slice(2) as [string, string, string, string];
const client = createClient<paths>({ baseUrl: url, headers: { Authorization: `Bearer ${key}` } });

/** What came back, or an error that names the code. */
function fetched<Body>(answer: { data?: Body; error?: Problem }): Body {
  if (answer.data === undefined) throw new Error(answer.error?.code ?? "no body");
  return answer.data;
}

const form = new FormData();
form.append("file", new Blob([await readFile(photo)], { type: "image/jpeg" }), "photo.jpg");
const sent = await client.POST("/v1/references", {
  body: { file: "photo.jpg" },
  bodySerializer: () => form,
});
const reference = fetched(sent);

const wrong: Spec = { support: { width_mm: 1, height_mm: 150 } };
const refused = await client.POST("/v1/plans", {
  body: { reference_id: reference.id, spec: wrong },
});
const code: Problem["code"] = "spec-invalid";
if (refused.error?.code !== code) throw new Error("the plan was not refused");

const spec: Spec = {
  support: { width_mm: 150, height_mm: 150 },
  tone: { style: "outline", outline: { line_mm: 0.5 } },
};
const body = { reference_id: reference.id, spec, title: "Generated" };
const params = { header: { "Idempotency-Key": "another-pack" } };
let pack = fetched(await client.POST("/v1/packs", { params, body }));
const again = fetched(await client.POST("/v1/packs", { params, body }));
const path = { pack_id: pack.id };
while (pack.state === "queued" || pack.state === "making") {
  await new Promise((resume) => setTimeout(resume, 200));
  pack = fetched(await client.GET("/v1/packs/{pack_id}", { params: { path } }));
}
const pdf = await client.GET("/v1/packs/{pack_id}/pack.pdf", {
  params: { path },
  parseAs: "arrayBuffer",
});
await writeFile(out, new Uint8Array(fetched(pdf)));

const made = await client.POST("/v1/classes", {
  body: { name: "Noon", settings: { defaults: { support: { width_mm: 300, height_mm: 200 } } } },
});
const settings = fetched(made).settings;
console.log(
  JSON.stringify({
    state: pack.state,
    same: again.id === pack.id,
    line_mm: pack.spec.tone?.outline?.line_mm,
    sheets: pack.plan?.sheet_count,
    problem: [refused.error.code, refused.error.field],
    width_mm: settings.defaults.support?.width_mm,
  }),
);
